package command

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
)

// output is a file that appears under its name only when it is complete. It is written
// in large blocks by a goroutine of its own, past the kernel's cache where that can be:
// what is synced before it gets its name has to go to the disk anyhow, and to copy it
// first takes longer than to make most of it.
type output struct {
	path string
	file *os.File // under a name of its own until it is complete

	block  []byte      // to be filled
	made   int         // blocks
	full   chan []byte // in their order; nil: nobody writes
	empty  chan []byte // to be filled again; one that is nil could not be written
	ended  chan error  // what went wrong, once there is nothing more to write
	failed error       // nobody writes any more
}

const (
	blockBytes  = 1 << 20
	maxBlocks   = 4
	pageBytes   = 4 << 10
	leastBuffer = 128 << 10 // that is worth having
)

// createOutput begins a file beside its place. It refuses to take the place of
// the input, or of something that is not a file.
func createOutput(path, input string) (*output, error) {
	if info, err := os.Stat(path); err == nil {
		in, inErr := os.Stat(input)
		switch {
		case !info.Mode().IsRegular():
			return nil, fmt.Errorf("%s is not a file; name one to be written", path)
		case inErr == nil && os.SameFile(info, in):
			return nil, fmt.Errorf("%s is the inventory itself; name another file for the result", path)
		}
	}
	file, err := os.OpenFile(fmt.Sprintf("%s.%d.part", path, os.Getpid()), os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o666)
	if at := (*fs.PathError)(nil); errors.As(err, &at) && !errors.Is(err, fs.ErrExist) {
		return nil, fmt.Errorf("%s cannot be written: %w", path, at.Err)
	}
	if err != nil {
		return nil, err
	}
	return &output{path: path, file: file}, nil
}

// restart drops what has been written.
func (o *output) restart() error {
	o.stop()
	o.block, o.failed = o.block[:0], nil
	if _, err := o.file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	return o.file.Truncate(0)
}

// Write implements io.Writer. An error may come with a later call, or with finish. What
// was put into an AvailableBuffer is not copied.
func (o *output) Write(p []byte) (int, error) {
	if o.holds(p) {
		o.block = o.block[:len(o.block)+len(p)]
		return len(p), o.failed
	}
	for n := 0; n < len(p); {
		if len(o.block) == cap(o.block) {
			o.handOn()
		}
		if o.failed != nil {
			return n, o.failed
		}
		k := copy(o.block[len(o.block):cap(o.block)], p[n:])
		o.block, n = o.block[:len(o.block)+k], n+k
	}
	return len(p), nil
}

// holds tells a text that stands where the next one is to be written.
func (o *output) holds(p []byte) bool {
	free := o.block[len(o.block):cap(o.block)]
	return len(p) > 0 && len(p) <= len(free) && &p[0] == &free[:1][0]
}

// AvailableBuffer gives an empty buffer, to be appended to and written at once, as that of
// bufio.Writer.
func (o *output) AvailableBuffer() []byte {
	if cap(o.block)-len(o.block) < leastBuffer {
		o.handOn()
	}
	return o.block[len(o.block):]
}

// handOn lets a block be written, and takes an empty one. What fills no page it begins that
// one with: past the cache only whole pages are written. After an error nothing is written.
func (o *output) handOn() {
	if o.failed != nil {
		o.block = o.block[:0]
		return
	}
	var rest [pageBytes]byte
	whole := len(o.block) &^ (pageBytes - 1)
	n := copy(rest[:], o.block[whole:])
	if whole > 0 {
		if o.full == nil {
			o.begin()
		}
		o.full <- o.block[:whole]
	}
	if o.made < maxBlocks {
		o.made++
		o.block = make([]byte, 0, blockBytes)
	} else if o.block = <-o.empty; o.block == nil {
		o.failed = o.stop()
	}
	o.block = append(o.block, rest[:n]...)
}

func (o *output) begin() {
	o.full, o.empty, o.ended = make(chan []byte), make(chan []byte, maxBlocks), make(chan error, 1)
	go o.writeBlocks(o.full, o.empty, o.ended)
}

// writeBlocks writes until there are no more blocks, and nothing after an error.
func (o *output) writeBlocks(full <-chan []byte, empty chan<- []byte, ended chan<- error) {
	past := pastCache(o.file, true) == nil
	var failed error
	for block := range full {
		if failed == nil {
			n, err := o.file.Write(block)
			if err != nil && past && errors.Is(err, errNotPast) {
				past, err = false, pastCache(o.file, false)
				if err == nil {
					_, err = o.file.Write(block[n:])
				}
			}
			failed = err
		}
		if failed != nil {
			block = nil
		}
		empty <- block[:0]
	}
	if past {
		failed = errors.Join(failed, pastCache(o.file, false))
	}
	ended <- failed
}

// stop waits until the full blocks are written. What was made then is made again.
func (o *output) stop() error {
	if o.full == nil {
		return nil
	}
	close(o.full)
	err := <-o.ended
	o.full, o.made = nil, 1
	return err
}

// finish makes sure that all is on the disk, still under its own name.
func (o *output) finish() error {
	if o.failed == nil {
		o.failed = o.stop()
	}
	if o.failed == nil {
		_, o.failed = o.file.Write(o.block)
		o.block = o.block[:0]
	}
	if o.failed == nil {
		o.failed = o.file.Sync()
	}
	return o.failed
}

// publish gives the file its name.
func (o *output) publish() error {
	if err := o.file.Close(); err != nil {
		return err
	}
	if err := os.Rename(o.file.Name(), o.path); err != nil {
		return err
	}
	o.file = nil
	return nil
}

// drop removes a file that was not published.
func (o *output) drop() {
	if o.file != nil {
		o.stop()
		o.file.Close()
		os.Remove(o.file.Name())
	}
}
