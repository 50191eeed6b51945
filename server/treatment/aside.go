package treatment

import (
	"cmp"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"io"
	"slices"

	"example.org/rootward/rules/quantity"
)

// Aside keeps the sums by class of many sites' planners outside of memory. Nothing is
// decided by these sums while stems are planned: they are asked for once the whole is
// known, and then only of a site that passes an annual maximum. So what was summed is
// written where it stays, the sums begin anew, and the two are added when they are
// gathered.
//
// It is for one goroutine. After an error its planners' sums are not to be used.
type Aside struct {
	open  func() (File, error)
	room  Room
	file  File // nil: nothing is aside
	size  int64
	due   int64        // size at which all is written anew
	kept  []*tally     // of which something was ever aside
	warm  []*tally     // of which something is in memory
	held  int          // bytes of that, about
	free  []*classSums // whose memory is used again
	page  []byte       // still to be written, the end of size
	bytes []byte       // read; reused
}

// File is where sums are put aside: what was written to its end is read back.
type File interface {
	io.Writer
	io.ReaderAt
	io.Closer
}

// RoomError is why a file could not be made or written.
type RoomError struct{ Why error }

func (e *RoomError) Error() string { return fmt.Sprintf("putting sums aside: %v", e.Why) }

// Unwrap gives the reason.
func (e *RoomError) Unwrap() error { return e.Why }

// Room is how much is kept where. Zeros stand for what suits most.
type Room struct {
	Memory int   // bytes of sums above which they are put aside
	File   int64 // bytes above which a file is written anew, shorter, if that halves it
}

// NewAside makes one that opens a file once it has something to put there, and another
// when that is written anew.
func NewAside(open func() (File, error), room Room) *Aside {
	room.Memory, room.File = cmp.Or(room.Memory, 2<<20), cmp.Or(room.File, 64<<20)
	return &Aside{open: open, room: room, due: room.File}
}

// PutAside has the planner's sums put aside, from its first stem on; nil: nowhere.
func (p *Planner) PutAside(a *Aside) { p.aside = a }

// apart is what a tally has outside of memory.
type apart struct {
	aside *Aside // nil: all stays in memory
	last  stretch
}

// stretch is a part of the file with sums of one tally, and where the one before is.
type stretch struct {
	from int64
	size int32 // 0: there is none
	kept bool  // the tally is among those kept
}

// begin makes room for sums in memory.
func (t *tally) begin() {
	t.sums = t.aside.empty()
	if t.aside != nil {
		t.aside.warm = append(t.aside.warm, t)
	}
	t.holdMore(2*diameterSteps + 32 + cap(t.sums.byLot)*lotsSize)
}

// empty gives sums that are none.
func (a *Aside) empty() *classSums {
	if a == nil || len(a.free) == 0 {
		return &classSums{}
	}
	last := len(a.free) - 1
	c := a.free[last]
	a.free = a.free[:last]
	*c = classSums{byLot: c.byLot[:0]}
	return c
}

// holdMore counts memory of sums.
func (t *tally) holdMore(bytes int) {
	if t.aside != nil {
		t.aside.held += bytes
	}
}

// Anew drops all sums that are in memory, for planners that begin anew: those that they
// were of are not to be asked any more.
func (a *Aside) Anew() {
	for _, t := range a.warm {
		a.free, t.sums = append(a.free, t.sums), nil
	}
	clear(a.warm)
	a.warm, a.held = a.warm[:0], 0
}

// Tidy puts all sums aside if they take more memory than they may. It is for the time
// between chunks of rows.
func (a *Aside) Tidy() error {
	if a == nil || a.held <= a.room.Memory {
		return nil
	}
	for _, t := range a.warm {
		if !t.last.kept {
			a.kept, t.last.kept = append(a.kept, t), true
		}
		if err := a.put(t, t.sums); err != nil {
			return err
		}
	}
	a.Anew()
	if err := a.write(0); err != nil {
		return err
	}
	if a.size > a.due {
		return a.shorten()
	}
	return nil
}

// put adds a stretch to the file.
func (a *Aside) put(t *tally, sums *classSums) error {
	if a.file == nil {
		file, err := a.open()
		if err != nil {
			return &RoomError{err}
		}
		a.file = file
	}
	before := len(a.page)
	a.page = sums.pack(a.page, t.last)
	n := len(a.page) - before
	t.last.from, t.last.size = a.size, int32(n)
	a.size += int64(n)
	const pageSize = 64 << 10
	return a.write(pageSize)
}

// write writes the page if it is longer than some bytes.
func (a *Aside) write(longer int) error {
	if len(a.page) <= longer {
		return nil
	}
	if _, err := a.file.Write(a.page); err != nil {
		return &RoomError{err}
	}
	a.page = a.page[:0]
	return nil
}

// shorten writes all that is aside anew, each tally's in one stretch.
func (a *Aside) shorten() error {
	old := a.file
	a.file, a.size = nil, 0
	defer old.Close()
	for _, t := range a.kept {
		var whole tally
		if err := a.read(old, t.last, &whole); err != nil {
			return err
		}
		if t.last = (stretch{kept: true}); whole.sums == nil {
			continue
		}
		if err := a.put(t, whole.sums); err != nil {
			return err
		}
	}
	a.due = max(a.room.File, 2*a.size)
	return a.write(0)
}

// Gather brings back into memory what Uses needs: the sums of those actives of which
// more is wanted than is left.
func (p *Planner) Gather() error {
	for _, t := range p.tallies {
		if t.last.size == 0 || t.wanted <= p.site.left(t.active, t.limit) {
			continue
		}
		if err := t.aside.read(t.aside.file, t.last, t); err != nil {
			return err
		}
		t.last = stretch{kept: true}
		if err := t.check(); err != nil {
			return err
		}
	}
	return nil
}

// check holds the sums against the whole of what is wanted.
func (t *tally) check() error {
	var sum quantity.MicrogramsAE
	for _, ae := range t.each {
		sum = grown(sum, ae)
	}
	if sum != t.wanted {
		return fmt.Errorf("the sums of %s are %d µg, and %d µg were counted: %w", t.active, sum, t.wanted, errNotAsPut)
	}
	return nil
}

// read adds a stretch, and those before it, to a tally.
func (a *Aside) read(from File, s stretch, to *tally) error {
	for s.size > 0 {
		a.bytes = slices.Grow(a.bytes[:0], int(s.size))[:s.size]
		if n, err := from.ReadAt(a.bytes, s.from); n < len(a.bytes) {
			return fmt.Errorf("sums that were put aside cannot be read: %w", err)
		}
		before, err := unpack(a.bytes, to)
		if err != nil {
			return err
		}
		if before.size > 0 && before.from+int64(before.size) > s.from {
			return errNotAsPut
		}
		s = before
	}
	return nil
}

var errNotAsPut = errors.New("sums that were put aside are not what was written")

// sumOf guards a stretch: what a disk makes of it must not become a share.
var sumOf = crc32.MakeTable(crc32.Castagnoli)

// pack appends a stretch: where the one before is, each class that anything is wanted in
// as the distance from the one before, with its amount, and a checksum.
func (c *classSums) pack(b []byte, before stretch) []byte {
	start := len(b)
	b = binary.AppendUvarint(b, uint64(before.from))
	b = binary.AppendUvarint(b, uint64(before.size))
	last := 0
	for class, ae := range c.each {
		b = binary.AppendUvarint(b, uint64(class-last))
		b = binary.AppendUvarint(b, uint64(ae))
		last = class
	}
	return binary.LittleEndian.AppendUint32(b, crc32.Checksum(b[start:], sumOf))
}

// unpack adds what was packed to a tally, and gives the stretch before.
func unpack(b []byte, to *tally) (before stretch, err error) {
	const checksum = 4
	if len(b) < checksum {
		return stretch{}, errNotAsPut
	}
	b, sum := b[:len(b)-checksum], b[len(b)-checksum:]
	if crc32.Checksum(b, sumOf) != binary.LittleEndian.Uint32(sum) {
		return stretch{}, errNotAsPut
	}
	r := packed{rest: b}
	before.from, before.size = int64(r.next(1<<62)), int32(r.next(1<<30))
	for class := 0; len(r.rest) > 0; {
		class += int(r.next(classes))
		ae := r.next(1<<63 - 1)
		if r.bad || class >= classes {
			return stretch{}, errNotAsPut
		}
		to.add(class, quantity.MicrogramsAE(ae))
	}
	if r.bad {
		return stretch{}, errNotAsPut
	}
	return before, nil
}

// packed is numbers one behind the other.
type packed struct {
	rest []byte
	bad  bool
}

// next takes a number up to a limit.
func (p *packed) next(most uint64) uint64 {
	v, n := binary.Uvarint(p.rest)
	if n <= 0 || v > most {
		p.bad, p.rest = true, nil
		return 0
	}
	p.rest = p.rest[n:]
	return v
}

// Close gives up what is aside.
func (a *Aside) Close() error {
	if a == nil || a.file == nil {
		return nil
	}
	return a.file.Close()
}
