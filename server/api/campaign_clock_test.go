package api

import "time"

// At sets the clock of the service.
func (s *Campaign) At(now time.Time) { s.now = func() time.Time { return now } }
