package marks

import (
	"bytes"
	"math/rand/v2"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
)

// Both ways of finding say of every byte what it is, wherever it stands and whatever stands
// beside it.
func TestEveryByteIsMarked(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	common := []byte(",\n\"\r a,\n-\x8A\xAC\xA2\x00\x7F\x80\xFF\x0B\x2D\x23")
	var text [2 * Size]byte
	for round := range 2_000 {
		for i := range text {
			if text[i] = byte(random.Uint32()); round%2 == 0 {
				text[i] = common[random.IntN(len(common))]
			}
		}
		requireMarks(t, text[:])
		requireMarks(t, text[random.IntN(2*Size):])
	}
	requireMarks(t, nil)
	for b := range 256 {
		requireMarks(t, bytes.Repeat([]byte{byte(b)}, Size))
	}
}

func requireMarks(t *testing.T, text []byte) {
	t.Helper()
	want := Marks{}
	for i, b := range text[:min(len(text), Size)] {
		bit := uint64(1) << (i % 64)
		if b == ',' || b == '\n' {
			want.Ends[i/64] |= bit
		}
		if b == '\n' {
			want.Feeds[i/64] |= bit
		}
		if b == '"' || b >= utf8.RuneSelf {
			want.Odd[i/64] |= bit
		}
	}
	got := Marks{Ends: [Size / 64]uint64{1}, Feeds: [Size / 64]uint64{1}, Odd: [Size / 64]uint64{1}}
	got.Find(text)
	require.Equal(t, want, got)
	var whole [Size]byte
	copy(whole[:], text)
	findAnywhere(&whole, &got)
	require.Equal(t, want, got)
}

func FuzzMarks(f *testing.F) {
	f.Add([]byte("id,place\n\"a, b\",é\r\n"))
	f.Fuzz(func(t *testing.T, text []byte) { requireMarks(t, text) })
}

func BenchmarkFind(b *testing.B) {
	text := bytes.Repeat([]byte("m-0000000001,Populus alba,mill-m"), Size/32)
	for _, way := range []struct {
		name string
		find func(*[Size]byte, *Marks)
	}{{"here", find}, {"anywhere", findAnywhere}} {
		b.Run(way.name, func(b *testing.B) {
			var m Marks
			b.SetBytes(Size)
			for b.Loop() {
				way.find((*[Size]byte)(text), &m)
			}
		})
	}
}
