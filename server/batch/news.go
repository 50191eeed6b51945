package batch

import "sync"

// news wakes those who watch batches when one of this server has begun or ended, so that
// they need not wait for their next look. What other servers do they find by looking.
type news struct {
	mu      sync.Mutex
	waiting chan struct{} // closed by the next piece of news; nil: nobody waits
}

// next is closed by the next piece of news after this call.
func (n *news) next() <-chan struct{} {
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.waiting == nil {
		n.waiting = make(chan struct{})
	}
	return n.waiting
}

// tell wakes all who wait.
func (n *news) tell() {
	n.mu.Lock()
	defer n.mu.Unlock()
	if n.waiting != nil {
		close(n.waiting)
		n.waiting = nil
	}
}
