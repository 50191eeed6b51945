package rules_test

import (
	"encoding/json"
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
)

// vocabularyIsSound checks what every vocabulary promises.
func vocabularyIsSound[T rules.Vocabulary](t *testing.T) {
	t.Helper()
	values := rules.Words[T]()
	t.Run(fmt.Sprintf("%T", T(0)), func(t *testing.T) {
		require.NotEmpty(t, values)
		require.Less(t, len(values), 32, "a set holds 31 words at most")
		assert.False(t, rules.Known(T(0)))
		assert.False(t, rules.Known(T(len(values)+1)))
		var all rules.OneOf[T]
		assert.True(t, all.Empty())
		seen := map[string]bool{}
		for _, v := range values {
			assert.True(t, rules.Known(v))
			text := wordOf(t, v)
			assert.False(t, seen[text], "%q stands twice", text)
			seen[text] = true
			read, err := rules.ParseWord[T](text)
			require.NoError(t, err)
			assert.Equal(t, v, read)
			assert.False(t, all.Has(v))
			all |= rules.AnyOf(v)
			assert.True(t, all.Has(v))
		}
		assert.Equal(t, values, all.Values())
		assert.Equal(t, rules.AnyOf(values...), all)
		assert.False(t, all.Empty())
		for _, text := range []string{"", "UNKNOWN", fmt.Sprint(T(200))} {
			_, err := rules.ParseWord[T](text)
			assert.ErrorContains(t, err, wordOf(t, values[0]), "the error lists the words there are")
		}
		assert.Equal(t, `"unknown(200)"`, marshal(t, T(200)))
	})
}

// wordOf reads a word from its JSON, which is how files and digests hold it.
func wordOf[T rules.Vocabulary](t *testing.T, v T) string {
	var text string
	require.NoError(t, json.Unmarshal([]byte(marshal(t, v)), &text))
	assert.Equal(t, fmt.Sprint(v), text)
	assert.Regexp(t, `^[A-Za-z][A-Za-z0-9_]*$`, text)
	return text
}

func marshal(t *testing.T, v any) string {
	text, err := json.Marshal(v)
	require.NoError(t, err)
	return string(text)
}

func TestVocabularies(t *testing.T) {
	vocabularyIsSound[rules.Method](t)
	vocabularyIsSound[rules.Equipment](t)
	vocabularyIsSound[rules.Suckering](t)
	vocabularyIsSound[rules.GrowthForm](t)
	vocabularyIsSound[rules.FormulationKind](t)
	vocabularyIsSound[rules.SoilActivity](t)
	vocabularyIsSound[rules.AquaticLabel](t)
	vocabularyIsSound[rules.RestrictedUse](t)
	vocabularyIsSound[rules.ToxicityCategory](t)
	vocabularyIsSound[rules.Droplet](t)
	vocabularyIsSound[rules.LandUse](t)
	vocabularyIsSound[rules.SoilState](t)
	vocabularyIsSound[rules.BarkState](t)
	vocabularyIsSound[rules.Desirable](t)
	vocabularyIsSound[rules.RootCheck](t)
	vocabularyIsSound[rules.YesNo](t)
	vocabularyIsSound[rules.WaterClass](t)
	vocabularyIsSound[rules.DistanceOrigin](t)
	vocabularyIsSound[rules.Season](t)
	vocabularyIsSound[rules.Standing](t)
	vocabularyIsSound[rules.Layer](t)
	vocabularyIsSound[rules.WeatherFactor](t)
	vocabularyIsSound[rules.Measure](t)
	vocabularyIsSound[rules.WaterState](t)
	vocabularyIsSound[rules.PlaceClass](t)
	vocabularyIsSound[rules.Activity](t)
	vocabularyIsSound[rules.DistanceAlong](t)
	vocabularyIsSound[rules.DriftControl](t)
	vocabularyIsSound[rules.CertificationCategory](t)
	vocabularyIsSound[rules.SiteFact](t)
	vocabularyIsSound[rules.Statistic](t)
	vocabularyIsSound[rules.AreaCounted](t)
	vocabularyIsSound[rules.ClockAnchor](t)
	vocabularyIsSound[rules.AnswerKind](t)
	vocabularyIsSound[rules.EffectKind](t)
}

func TestSetsAreWrittenInWords(t *testing.T) {
	assert.Equal(t, `"basal_bark, cut_stump"`, marshal(t, rules.AnyOf(rules.CutStump, rules.BasalBark)))
	assert.Equal(t, `""`, marshal(t, rules.AnyOf[rules.Method]()))
}

// The lattice, and that nothing can be read as permission that is not.
func TestDecisions(t *testing.T) {
	ordered := []rules.Decision{rules.Allowed, rules.Conditional, rules.Undetermined, rules.Prohibited}
	words := []string{"ALLOWED", "CONDITIONAL", "UNDETERMINED", "PROHIBITED"}
	for i, a := range ordered {
		assert.Equal(t, words[i], a.String())
		assert.Equal(t, `"`+words[i]+`"`, marshal(t, a))
		for j, b := range ordered {
			assert.Equal(t, ordered[max(i, j)], rules.Stricter(a, b))
		}
	}
	for d := 4; d < 256; d++ {
		assert.Equal(t, "PROHIBITED", rules.Decision(d).String())
	}
}

// What is read as a word is that word.
func FuzzParseWord(f *testing.F) {
	for _, seed := range []string{"basal_bark", "", "Basal_bark", "cut_stump ", "unknown(3)"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		m, err := rules.ParseWord[rules.Method](text)
		assert.Equal(t, err == nil, rules.Known(m))
		if err == nil {
			assert.Equal(t, text, m.String())
		}
	})
}
