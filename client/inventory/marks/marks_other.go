//go:build !amd64

package marks

func find(text *[Size]byte, m *Marks) { findAnywhere(text, m) }
