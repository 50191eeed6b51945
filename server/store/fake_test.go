package store_test

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"sync/atomic"

	"example.org/rootward/server/batch"
)

// spec is a request to hasher: what it is to do, and how it is to fail.
type spec struct {
	Passes int `json:",omitempty"` // 1 if 0
	// How many times a call fails before it succeeds; -1 for always.
	OpenFails, AnswerFails, SumFails int  `json:",omitempty"`
	Refuses                          bool `json:",omitempty"` // to open
	PinRefuses                       bool `json:",omitempty"`
	Elsewhere                        bool `json:",omitempty"` // that is why opening fails
	Panics                           bool `json:",omitempty"` // on chunk data "panic"
}

func (s spec) bytes() []byte {
	b, err := json.Marshal(s)
	if err != nil {
		panic(err)
	}
	return b
}

// hasher is an Evaluator whose answers are hashes, so that whatever goes into them
// shows: what was pinned, the shares, the order of the tallies.
type hasher struct {
	pins, opens, answers, sums atomic.Int64
	open, answer, sum          atomic.Int64 // failures so far
	gate                       func()       // before each answer, if set
	opening                    func()       // before each run is opened, if set
	rounds                     int          // of hashing for nothing: the work that a chunk is
	law                        atomic.Int64 // that is pinned
	lacks                      atomic.Bool  // what was pinned
}

type refusal string

func (r refusal) Error() string   { return "refused: " + string(r) }
func (r refusal) Refusal() string { return string(r) }

func read(request []byte) (s spec) {
	if err := json.Unmarshal(request, &s); err != nil {
		panic(err)
	}
	s.Passes = max(s.Passes, 1)
	return s
}

// fails counts a call that is to fail so many times.
func fails(n int, count *atomic.Int64, what string) error {
	if n < 0 || count.Add(1) <= int64(n) {
		return errors.New(what + " failed")
	}
	return nil
}

func (h *hasher) Pin(_ context.Context, request, before []byte) ([]byte, error) {
	h.pins.Add(1)
	if read(request).PinRefuses {
		return nil, refusal("NO_LAW")
	}
	return append(fmt.Appendf(nil, "pinned after %q", before), make([]byte, h.law.Load())...), nil
}

func (h *hasher) Open(_ context.Context, request, pinned, shares []byte) (batch.Run, error) {
	h.opens.Add(1)
	if h.opening != nil {
		h.opening()
	}
	s := read(request)
	if s.Refuses {
		return nil, refusal("NO_TABLES")
	}
	if h.lacks.Load() {
		return nil, elsewhere{errors.New("it lacks the layer rivers: load it again")}
	}
	if err := fails(s.OpenFails, &h.open, "opening"); err != nil {
		if s.Elsewhere {
			err = elsewhere{err}
		}
		return nil, err
	}
	return &run{h, s, sha256.Sum256(fmt.Appendf(nil, "%s\n%s\n%s", request, pinned, shares))}, nil
}

type run struct {
	*hasher
	spec spec
	key  [32]byte
}

func (r *run) Close() {}

func (r *run) Answer(chunk []byte, _ any) (a batch.Answer, err error) {
	if r.gate != nil {
		r.gate()
	}
	r.answers.Add(1)
	if r.spec.Panics && string(chunk) == "panic" {
		panic("cannot read this")
	}
	if err := fails(r.spec.AnswerFails, &r.answer, "answering"); err != nil {
		return a, err
	}
	sum := sha256.Sum256(append(r.key[:], chunk...))
	for work, i := sum, 0; i < r.rounds; i++ {
		work = sha256.Sum256(work[:])
	}
	a.Result = append(sum[:], chunk...)
	a.Tally = sum[:8]
	n := int64(len(chunk))
	a.Counts = batch.Counts{Prescribed: n - n/2, Deferred: n / 2 / 2, Undetermined: n/2 - n/2/2}
	return a, nil
}

func (h *hasher) Sum(_ context.Context, request, pinned, shares []byte, tallies iter.Seq2[[]byte, error]) (sum batch.Sum, err error) {
	h.sums.Add(1)
	s := read(request)
	if err := fails(s.SumFails, &h.sum, "summing"); err != nil {
		return sum, err
	}
	total, n := sha256.New(), uint64(0)
	for tally, err := range tallies {
		if err != nil {
			return sum, err
		}
		total.Write(tally)
		n++
	}
	out := binary.BigEndian.AppendUint64(total.Sum(nil), n)
	if s.Passes == 2 && shares == nil {
		return batch.Sum{Shares: out}, nil
	}
	return batch.Sum{Summary: out}, nil
}
