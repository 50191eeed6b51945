package nearest_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"example.org/rootward/rules/nearest"
)

func TestTo(t *testing.T) {
	names := []string{"seedling", "root_sucker", "tree", "Ailanthus altissima", "Robinia pseudoacacia", "park"}
	for word, want := range map[string]string{
		"Tree": "tree", "seedlng": "seedling", "root sucker": "root_sucker", "Ailanthus altisima": "Ailanthus altissima", "ailanthus altissima": "Ailanthus altissima",
		"farm": "", "": "", "x": "", "Acer rubrum": "", strings.Repeat("tree", 16): "",
	} {
		assert.Equal(t, want, nearest.To(word, names...), word)
	}
	assert.Empty(t, nearest.To("tree"))
}

// Any words are taken, and a name is nearest to itself.
func TestANameIsNearestToItself(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		names := rapid.SliceOfN(rapid.StringN(0, -1, 100), 1, 5).Draw(t, "names")
		assert.Contains(t, append(names, ""), nearest.To(rapid.StringN(0, -1, 70).Draw(t, "word"), names...))
		own := names[0]
		if near := nearest.To(own, names...); len(strings.ToLower(own)) <= 60 && own != "" {
			assert.Equal(t, strings.ToLower(own), strings.ToLower(near))
		}
	})
}
