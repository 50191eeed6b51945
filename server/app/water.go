package app

import (
	"fmt"
	"sync/atomic"

	"github.com/rs/zerolog"

	"example.org/rootward/server/water"
)

// waterFolder holds the layers of a folder. Calls that are under way keep those that
// they began with when it is loaded anew.
type waterFolder struct {
	dir string // empty: there are no layers
	log zerolog.Logger
	now atomic.Pointer[water.Layers]
}

// current implements api.CurrentWater.
func (w *waterFolder) current() *water.Layers { return w.now.Load() }

// load takes the layers of the folder for those that it held. An error leaves them.
func (w *waterFolder) load() error {
	if w.dir == "" {
		return nil
	}
	layers, err := water.Load(w.dir)
	if err != nil {
		return fmt.Errorf("--water %s: %w", w.dir, err)
	}
	w.now.Store(layers)
	features, edges := 0, 0
	for _, l := range layers.Describe() {
		features, edges = features+l.Features, edges+l.Edges
	}
	w.log.Info().Int("layers", len(layers.Describe())).Int("features", features).Int("edges", edges).
		Int64("bytes", layers.IndexBytes()).Int64("ms", layers.LoadTime().Milliseconds()).Msg("loaded the water layers")
	return nil
}

// reload loads the folder anew and logs why it could not.
func (w *waterFolder) reload() {
	if err := w.load(); err != nil {
		w.log.Error().Err(err).Msg("the water layers were not loaded anew; those that were loaded go on")
	}
}
