package rules_test

import (
	"encoding/json"
	"math/rand/v2"
	"reflect"
	"testing"

	"github.com/stretchr/testify/require"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// TestContentIsWhatEncodingJSONWrites holds what is written by hand against Go's own
// encoding/json, on tables that are drawn field by field and need not be valid.
func TestContentIsWhatEncodingJSONWrites(t *testing.T) {
	type row struct {
		rules.Row
		Kind rules.EffectKind
	}
	type whole struct {
		Manifest rules.Manifest
		Rows     []row
		Cases    []rules.Case `json:",omitempty"`
	}
	r := rand.New(rand.NewPCG(1, 2))
	tables := []rules.Table{fullTable(), everyTable(), {}}
	for range 300 {
		tables = append(tables, filledTable(r))
	}
	for _, table := range tables {
		want := whole{table.Manifest, []row{}, table.Cases}
		for _, r := range table.Rows {
			want.Rows = append(want.Rows, row{r, r.Effect.Kind()})
		}
		text, err := json.Marshal(want)
		require.NoError(t, err)
		require.Equal(t, string(text), string(rules.Content(&table)))
	}
}

func filledTable(r *rand.Rand) rules.Table {
	var table rules.Table
	fill(r, reflect.ValueOf(&table).Elem())
	for i := range table.Cases {
		site := &table.Cases[i].Site
		for _, m := range some(r, rules.Words[rules.Measure]()) {
			site.Measures.Set(m, r.Int64()-r.Int64())
		}
		for _, c := range some(r, rules.Words[rules.WaterClass]()) {
			site.Water.Set(c, filled[rules.WaterDistance](r))
		}
		for _, c := range some(r, rules.Words[rules.PlaceClass]()) {
			site.Places.Set(c, filled[rules.PlaceDistance](r))
		}
		switch r.IntN(4) {
		case 0:
			site.Water.SetOthers(quantity.Metre)
		case 1:
			site.Places.SetOthers(quantity.Metre)
		}
	}
	effects := everyRows()
	for i := range table.Rows {
		effect := reflect.New(reflect.TypeOf(effects[r.IntN(len(effects))].Effect)).Elem()
		fill(r, effect)
		table.Rows[i].Effect = effect.Interface().(rules.Effect)
	}
	return table
}

func some[T any](r *rand.Rand, list []T) (few []T) {
	for _, v := range list {
		if r.IntN(4) == 0 {
			few = append(few, v)
		}
	}
	return few
}

func filled[T any](r *rand.Rand) (v T) {
	fill(r, reflect.ValueOf(&v).Elem())
	return v
}

// fill gives every exported field a value, often zero.
func fill(r *rand.Rand, v reflect.Value) {
	if v.Kind() != reflect.Struct && r.IntN(3) == 0 {
		return
	}
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				fill(r, v.Field(i))
			}
		}
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), r.IntN(4), 4))
		for i := range v.Len() {
			fill(r, v.Index(i))
		}
	case reflect.String:
		texts := []string{"plain text, of words", "", `"quoted" \ and`, "<a> & b", "naïve\u2028\x7f\x00\n\t", "not \xff UTF-8"}
		v.SetString(texts[r.IntN(len(texts))])
	case reflect.Bool:
		v.SetBool(true)
	case reflect.Float64:
		v.SetFloat(r.NormFloat64() * 1e3)
	case reflect.Uint8: // a word, or a number without one
		v.SetUint(r.Uint64N(40))
	case reflect.Uint32: // a set of words
		v.SetUint(r.Uint64N(1 << 12))
	case reflect.Interface: // an effect
	default:
		if v.Type() == reflect.TypeFor[civil.Date]() {
			v.SetInt(r.Int64N(int64(civil.Of(9999, 12, 31))))
			return
		}
		v.SetInt(r.Int64N(1e6) - 10)
	}
}
