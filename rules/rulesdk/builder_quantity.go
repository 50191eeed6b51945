package rulesdk

import (
	"fmt"
	"reflect"
	"strings"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// Quantity is a number with its unit: 100 * quantity.Foot, quantity.Metres(30),
// quantity.PoundsPerAcre(2). A bare number is none, and where a Quantity is asked
// for does not compile: to an interface Go gives a constant without a type as an
// int, which has no unit, and does not turn it into a length as it does for a field
// or a parameter of type quantity.Micrometres.
type Quantity interface{ Unit() string }

// StemsPerHectare is how densely stems stand.
type StemsPerHectare int64

// Unit gives "stems_per_ha".
func (StemsPerHectare) Unit() string { return "stems_per_ha" }

// MillilitresPerHectare is how much liquid is put on an area.
type MillilitresPerHectare int64

// Unit gives "ml_per_ha".
func (MillilitresPerHectare) Unit() string { return "ml_per_ha" }

// Limit is one end of the part of a measure's scale to which a row applies.
type Limit struct {
	held    rules.Range
	problem string
}

// AtLeast holds from v on, v included.
func AtLeast(of rules.Measure, v Quantity) Limit { return limited(rules.AtLeast, of, v) }

// Above holds beyond v, v not included.
func Above(of rules.Measure, v Quantity) Limit { return limited(rules.Above, of, v) }

// AtMost holds up to v, v included.
func AtMost(of rules.Measure, v Quantity) Limit { return limited(rules.AtMost, of, v) }

// Below holds up to v, v not included.
func Below(of rules.Measure, v Quantity) Limit { return limited(rules.Below, of, v) }

func limited(end func(rules.Measure, int64) rules.Range, of rules.Measure, v Quantity) Limit {
	number, problem := inUnitOf(of, v)
	return Limit{held: end(of, number), problem: problem}
}

// inUnitOf gives the quantity as a number in the unit of the measure, which ends
// the measure's name.
func inUnitOf(of rules.Measure, v Quantity) (int64, string) {
	if v == nil {
		return 0, fmt.Sprintf("the limit of %s is missing", of)
	}
	number, unit := reflect.ValueOf(v), v.Unit()
	switch {
	case number.Kind() != reflect.Int64:
		return 0, fmt.Sprintf("the limit of %s is a %T, which is not a whole number", of, v)
	case of.String() == unit, strings.HasSuffix(of.String(), "_"+unit):
		return number.Int(), ""
	case strings.HasSuffix(of.String(), "_permille"):
		if p, ok := v.(quantity.PerMillion); ok && p%1_000 == 0 {
			return int64(p / 1_000), ""
		}
		return 0, fmt.Sprintf("the limit of %s is not a share in tenths of a percent such as quantity.Percent(30)", of)
	}
	return 0, fmt.Sprintf("the limit of %s is in %s; give it in the measure's own kind of unit", of, unit)
}

// filled gives the effect with the quantities in its fields.
func filled(effect rules.Effect, quantities []Quantity) (rules.Effect, []string) {
	if effect == nil {
		return nil, nil // the table's own check says so
	}
	copied := reflect.New(reflect.TypeOf(effect)).Elem()
	copied.Set(reflect.ValueOf(effect))
	f := &filler{left: quantities, of: effect.Kind().String()}
	f.fill(copied, "")
	if _, zone := effect.(rules.ExclusionZone); zone && len(quantities) == 0 {
		f.add("Radius is missing, which would say that there is no zone; give it to Then after the effect, 0*quantity.Foot where there is none")
	}
	for _, q := range f.left {
		f.add("the effect has no field for %T %v, or one less; see the fields of its type", q, q)
	}
	return copied.Interface().(rules.Effect), f.problems
}

type filler struct {
	left     []Quantity
	of       string
	problems []string
}

func (f *filler) add(format string, args ...any) {
	f.problems = append(f.problems, f.of+": "+fmt.Sprintf(format, args...))
}

var isQuantity = reflect.TypeFor[Quantity]()

// fill goes through the fields of a struct, in order.
func (f *filler) fill(v reflect.Value, name string) {
	switch {
	case v.Type().Implements(isQuantity) && v.Kind() == reflect.Int64:
		f.take(v, name)
	case v.Kind() == reflect.Pointer && !v.IsNil() && v.Type().Elem().Kind() == reflect.Struct:
		own := reflect.New(v.Type().Elem())
		own.Elem().Set(v.Elem())
		v.Set(own)
		f.fill(own.Elem(), name)
	case v.Kind() == reflect.Struct && name != "" && v.IsZero():
		// A part of which nothing is stated, such as a reduction, takes none.
	case v.Kind() == reflect.Struct:
		for i := range v.NumField() {
			if field := v.Type().Field(i); field.IsExported() {
				f.fill(v.Field(i), strings.TrimPrefix(name+"."+field.Name, "."))
			}
		}
	}
}

// take puts the first quantity of the field's type into it.
func (f *filler) take(v reflect.Value, name string) {
	if !v.IsZero() {
		f.add("%s is written into the effect, where Go takes a number without a unit; leave it out there and give it to Then after the effect, such as 100*quantity.Foot", name)
		return
	}
	for i, q := range f.left {
		if q != nil && reflect.TypeOf(q) == v.Type() {
			v.Set(reflect.ValueOf(q))
			f.left = append(append([]Quantity{}, f.left[:i]...), f.left[i+1:]...)
			return
		}
	}
}
