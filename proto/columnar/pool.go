package columnar

import (
	"math/bits"
	"sync"

	"google.golang.org/grpc/mem"
)

// Memory is a pool of gRPC's buffers that are not emptied before they are used again: who
// gets one writes all that anyone reads of it, as gRPC itself does.
func Memory() mem.BufferPool { return memory }

var memory = &pool{}

// pool has buffers by the power of two that their room is.
type pool [maxShift - minShift + 1]sync.Pool

const (
	minShift = 10 // smaller ones are not worth it
	maxShift = 26 // beyond the largest message that is taken
)

// Get implements mem.BufferPool.
func (p *pool) Get(length int) *[]byte {
	shift := max(minShift, bits.Len(uint(max(1, length)-1)))
	if shift > maxShift {
		b := make([]byte, length)
		return &b
	}
	b, ok := p[shift-minShift].Get().(*[]byte)
	if !ok {
		b = new(make([]byte, 1<<shift))
	}
	*b = (*b)[:length]
	return b
}

// Put implements mem.BufferPool.
func (p *pool) Put(b *[]byte) {
	if shift := bits.Len(uint(cap(*b))) - 1; shift >= minShift && shift <= maxShift {
		p[shift-minShift].Put(b)
	}
}
