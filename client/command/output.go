package command

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
)

// output is a file that appears under its name only when it is complete.
type output struct {
	path string
	file *os.File // under a name of its own until it is complete
	out  *bufio.Writer

	written, begun int64 // bytes: to the file, and on their way to the disk
}

// toDiskBytes is how much is written before its way to the disk begins.
const toDiskBytes = 16 << 20

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
	if err != nil {
		return nil, err
	}
	o := &output{path: path, file: file}
	o.out = bufio.NewWriterSize((*toDisk)(o), 1<<16)
	return o, nil
}

// toDisk is what an output writes to: the file, whose way to the disk begins while it
// is written, so that nobody waits for all of it at the end.
type toDisk output

func (o *toDisk) Write(p []byte) (int, error) {
	n, err := o.file.Write(p)
	if o.written += int64(n); o.written-o.begun >= toDiskBytes {
		beginToDisk(o.file, o.begun, o.written-o.begun)
		o.begun = o.written
	}
	return n, err
}

// restart drops what has been written.
func (o *output) restart() error {
	o.out.Reset((*toDisk)(o))
	o.written, o.begun = 0, 0
	if _, err := o.file.Seek(0, io.SeekStart); err != nil {
		return err
	}
	return o.file.Truncate(0)
}

// Write implements io.Writer.
func (o *output) Write(p []byte) (int, error) { return o.out.Write(p) }

// finish makes sure that all is on the disk, still under its own name.
func (o *output) finish() error { return errors.Join(o.out.Flush(), o.file.Sync()) }

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
		o.file.Close()
		os.Remove(o.file.Name())
	}
}
