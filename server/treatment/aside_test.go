package treatment_test

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"example.org/rootward/rules/quantity"
	"example.org/rootward/server/treatment"
)

// shelf is files in memory.
type shelf struct {
	files  []*file
	full   int // bytes that a file takes at most; 0: any number
	broken bool
}

type file struct {
	on     *shelf
	text   []byte
	closed bool
}

func (s *shelf) open() (treatment.File, error) {
	if s.broken {
		return nil, errors.New("no such folder")
	}
	s.files = append(s.files, &file{on: s})
	return s.files[len(s.files)-1], nil
}

// longest is the most that one of the files has.
func (s *shelf) longest() int {
	most := 0
	for _, f := range s.files {
		most = max(most, len(f.text))
	}
	return most
}

func (f *file) Write(b []byte) (int, error) {
	if f.on.full > 0 && len(f.text)+len(b) > f.on.full {
		return 0, errors.New("no space left")
	}
	f.text = append(f.text, b...)
	return len(b), nil
}

func (f *file) ReadAt(b []byte, at int64) (int, error) {
	if f.closed {
		return 0, errors.New("closed")
	}
	if at >= int64(len(f.text)) {
		return 0, io.EOF
	}
	return bytes.NewReader(f.text).ReadAt(b, at)
}

func (f *file) Close() error {
	f.closed = true
	return nil
}

// wanting is what stems of a class want.
func wanting(active string, class int, ae quantity.MicrogramsAE) *treatment.Tally {
	return &treatment.Tally{Active: active, Limit: 5, Source: "x", Used: ae, Wanted: []treatment.Wanted{{Class: class, AE: ae}}}
}

// Sums that were put aside, however often, by sites in any order, are those that stayed in
// memory; also while only a few of the sites pass their maximum, and where they go on
// counting after they were gathered.
func TestSumsAsideAreThoseInMemory(t *testing.T) {
	settings, c, g := treatment.DefaultSettings(), shipped(t), law(t, summer)
	rapid.Check(t, func(rt *rapid.T) {
		var s shelf
		aside := treatment.NewAside(s.open, treatment.Room{
			Memory: rapid.IntRange(1, 20_000).Draw(rt, "memory"), File: rapid.Int64Range(1, 2_000).Draw(rt, "file"),
		})
		var all, put []*treatment.Planner
		for range rapid.IntRange(1, 5).Draw(rt, "sites") {
			site := &treatment.Site{Area: quantity.SquareMillimetres(rapid.Int64Range(1, 1<<40).Draw(rt, "area"))}
			all = append(all, treatment.NewPlanner(c, g, site, &settings))
			put = append(put, treatment.NewPlanner(c, g, site, &settings))
			put[len(put)-1].PutAside(aside)
		}
		same := func() {
			for i := range all {
				require.NoError(rt, put[i].Gather())
				require.Equal(rt, all[i].Uses(), put[i].Uses())
				require.NoError(rt, aside.Tidy())
			}
		}
		for range rapid.IntRange(1, 300).Draw(rt, "stems") {
			i := rapid.IntRange(0, len(all)-1).Draw(rt, "site")
			class := rapid.OneOf(rapid.Just(0), rapid.Just(2_047), rapid.IntRange(0, 2_047)).Draw(rt, "class")
			ae := rapid.OneOf(rapid.Int64Range(0, 1<<20), rapid.Int64Range(1<<31, 1<<33), rapid.Int64Range(1<<61, 1<<63-1)).Draw(rt, "ae")
			more := wanting(rapid.SampledFrom([]string{"glyphosate", "triclopyr"}).Draw(rt, "active"), class, quantity.MicrogramsAE(ae))
			require.NoError(rt, all[i].Count(more))
			require.NoError(rt, put[i].Count(more))
			switch rapid.IntRange(0, 40).Draw(rt, "then") {
			case 0:
				same()
			case 1, 2, 3, 4, 5, 6:
				require.NoError(rt, aside.Tidy())
			}
		}
		same()
		require.NoError(rt, aside.Close())
		for _, f := range s.files {
			require.True(rt, f.closed)
		}
	})
}

// asideOf is a planner of a site of nothing, with some sums aside.
func asideOf(t *testing.T, s *shelf) (*treatment.Planner, error) {
	t.Helper()
	settings := treatment.DefaultSettings()
	p := treatment.NewPlanner(shipped(t), law(t, summer), &treatment.Site{}, &settings)
	aside := treatment.NewAside(s.open, treatment.Room{Memory: 1})
	p.PutAside(aside)
	for i := range 3 {
		require.NoError(t, p.Count(wanting("glyphosate", 700*i, 1_000)))
		if err := aside.Tidy(); err != nil {
			return p, err
		}
	}
	return p, nil
}

// What a disk changed, or lost, is never taken for a sum.
func TestDamagedSumsAreNotUsed(t *testing.T) {
	var sound shelf
	_, err := asideOf(t, &sound)
	require.NoError(t, err)
	text := sound.files[0].text
	for at := range text {
		for _, change := range []byte{1, 0x80, 0xff} {
			var s shelf
			p, err := asideOf(t, &s)
			require.NoError(t, err)
			s.files[0].text[at] ^= change
			require.Error(t, p.Gather(), "byte %d", at)
		}
		var s shelf
		p, err := asideOf(t, &s)
		require.NoError(t, err)
		s.files[0].text = s.files[0].text[:at]
		require.Error(t, p.Gather(), "%d bytes are left", at)
	}
}

func TestSumsAreGatheredBeforeTheyAreRead(t *testing.T) {
	p, err := asideOf(t, &shelf{})
	require.NoError(t, err)
	assert.Panics(t, func() { p.Uses() })
	assert.Panics(t, func() { p.Tallies(nil) })
	require.NoError(t, p.Gather())
	assert.Len(t, p.Tallies(nil)[0].Wanted, 3)
}

func TestSumsThatCannotBeKeptAreAnError(t *testing.T) {
	_, err := asideOf(t, &shelf{broken: true})
	require.ErrorContains(t, err, "no such folder")
	_, err = asideOf(t, &shelf{full: 20})
	require.ErrorContains(t, err, "no space left")
}

// However many stems, the file is not much longer than the sums are once; and few sums
// need no file.
func TestTheFileIsBounded(t *testing.T) {
	settings, c, g := treatment.DefaultSettings(), shipped(t), law(t, summer)
	var s shelf
	aside := treatment.NewAside(s.open, treatment.Room{Memory: 10_000, File: 4_000})
	var sites []*treatment.Planner
	for range 50 {
		sites = append(sites, treatment.NewPlanner(c, g, &treatment.Site{}, &settings))
		sites[len(sites)-1].PutAside(aside)
	}
	const once = 50 * (20*4 + 10) // sites, each with twenty classes of four bytes
	for i := range 40_000 {
		require.NoError(t, sites[i%50].Count(wanting("glyphosate", i/50%20*100, 1)))
		require.NoError(t, aside.Tidy())
		if i == 10 {
			require.Empty(t, s.files)
		}
	}
	require.Greater(t, len(s.files), 2, "it was written anew")
	assert.Less(t, s.longest(), 2*once+10_000)
	open := slices.IndexFunc(s.files, func(f *file) bool { return !f.closed })
	assert.Equal(t, len(s.files)-1, open, "and the old one given up")
}

func FuzzSumsAside(f *testing.F) {
	for _, text := range []string{"", "\x00\x00", "\x00\x00\x05\x07\xff\x0f\x01", "\x80\x01\x10\x01\x00", fmt.Sprint(1 << 60)} {
		f.Add([]byte(text), false)
		f.Add([]byte(text), true)
	}
	f.Fuzz(func(t *testing.T, text []byte, checked bool) {
		if checked {
			text = treatment.WithChecksum(text)
		}
		wanted, err := treatment.Unpack(text)
		if err != nil {
			return
		}
		require.True(t, checked || len(text) >= 4)
		for _, w := range wanted {
			require.True(t, w.Class >= 0 && w.Class < 2_048 && w.AE > 0, w)
		}
	})
}
