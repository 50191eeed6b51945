package velmora_test

import (
	"testing"

	"example.org/rootward/plugins/internal/velmora"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The worked cases of the tables take their limits from the edition; here the
// limits stand as numbers, in micrometres (1 ft is 304,800).
func TestLimitsOfTheEditions(t *testing.T) {
	buffers := []struct {
		row         string
		now, future quantity.Micrometres
	}{
		{"buffer-foliar-backpack-open-water", 3_048_000, 9_144_000},
		{"buffer-foliar-backpack-wetland", 3_048_000, 9_144_000},
		{"buffer-foliar-handgun-open-water", 7_620_000, 15_240_000},
		{"buffer-foliar-steep-wetland", 15_240_000, 15_240_000},
		{"buffer-basal-ester-open-water", 7_620_000, 7_620_000},
		{"buffer-well-sprayed", 30_480_000, 30_480_000},
		{"buffer-well-on-cuts", 15_240_000, 15_240_000},
	}
	for _, b := range buffers {
		t.Run(b.row, func(t *testing.T) {
			assert.Equal(t, b.now, effect(t, velmora.Edition2024, b.row).(rules.Buffer).Distance)
			assert.Equal(t, b.future, effect(t, velmora.Draft2027, b.row).(rules.Buffer).Distance)
		})
	}
	windows := map[string][2]string{
		"window-strong-suckerers":   {"15 July to 15 October", "15 August to 31 October"},
		"window-moderate-suckerers": {"15 July to 15 October", "15 August to 31 October"},
		"window-sprouters-leaves":   {"1 June to 30 September", "1 June to 30 September"},
		"window-sprouters-stems":    {"1 June to 28 February", "1 June to 28 February"},
	}
	for row, want := range windows {
		t.Run(row, func(t *testing.T) {
			assert.Equal(t, want[0], effect(t, velmora.Edition2024, row).(rules.Window).Open.String())
			assert.Equal(t, want[1], effect(t, velmora.Draft2027, row).(rules.Window).Open.String())
		})
	}
}

func effect(t *testing.T, e velmora.Edition, id string) rules.Effect {
	t.Helper()
	for _, r := range e.Table().Rows {
		if r.ID == id {
			return r.Effect
		}
	}
	require.Fail(t, "no row "+id)
	return nil
}

func TestEveryDayHasOneSeason(t *testing.T) {
	set, err := rules.NewSet(velmora.Edition2024.Table())
	require.NoError(t, err)
	g := rules.Govern("us/velmora", civil.Of(2028, 1, 1), []*rules.Set{set})
	for day := civil.Of(2028, 1, 1); day <= civil.Of(2029, 12, 31); day++ {
		_, one := g.SeasonOn(day, "Ailanthus altissima")
		assert.True(t, one, "%s", day)
	}
}

func TestTheDraftIsAnotherVersionOfTheSameSet(t *testing.T) {
	now, err := rules.NewSet(velmora.Edition2024.Table())
	require.NoError(t, err)
	future, err := rules.NewSet(velmora.Draft2027.Table())
	require.NoError(t, err)
	assert.Equal(t, now.Ref.ID, future.Ref.ID)
	assert.NotEqual(t, now.Ref.Version, future.Ref.Version)
	assert.NotEqual(t, now.Ref.Digest, future.Ref.Digest)
}
