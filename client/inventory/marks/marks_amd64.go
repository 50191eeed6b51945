package marks

import "golang.org/x/sys/cpu"

// find needs AVX2, which all but the oldest processors have.
var find = func() func(*[Size]byte, *Marks) {
	if cpu.X86.HasAVX2 {
		return findAVX2
	}
	return findAnywhere
}()

//go:noescape
func findAVX2(text *[Size]byte, m *Marks)
