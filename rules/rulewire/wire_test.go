package rulewire_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"pgregory.net/rapid"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	pb "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/rulewire"
)

// send takes a table over the wire, as bytes.
func send(t require.TestingT, table *rules.Table) rules.Table {
	raw, err := proto.Marshal(rulewire.EncodeTable(table))
	require.NoError(t, err)
	var received pb.Table
	require.NoError(t, proto.Unmarshal(raw, &received))
	decoded, err := rulewire.DecodeTable(&received)
	require.NoError(t, err)
	return decoded
}

func TestATableArrivesAsItWasSent(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		sent := table(r)
		set, err := rules.NewSet(sent)
		require.NoError(r, err, "the draw is not valid")
		received, err := rules.NewSet(send(r, &sent))
		require.NoError(r, err)
		assert.Equal(r, set.Ref, received.Ref, "the digest is that of the sender")

		sent.Cases = []rules.Case{workedCase(r), workedCase(r)}
		assert.Equal(r, sent, send(r, &sent))
	})
}

func TestATreatmentAndItsSurroundingsArriveAsTheyWereSent(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		wantTreatment, wantSite := treatment(r), surroundings(r)
		gotTreatment, err := rulewire.DecodeTreatment(rulewire.EncodeTreatment(&wantTreatment))
		require.NoError(r, err)
		gotSite, err := rulewire.DecodeSurroundings(rulewire.EncodeSurroundings(&wantSite))
		require.NoError(r, err)
		assert.Equal(r, wantTreatment, gotTreatment)
		assert.Equal(r, wantSite, gotSite)
	})
}

// full is a table with every kind of effect and every optional part.
func full() *pb.Table {
	t := rapid.Custom(func(t *rapid.T) rules.Table {
		table := table(t)
		table.Manifest.ValidTo, table.Manifest.ReviewBy = table.Manifest.ValidFrom+9, table.Manifest.ValidFrom+8
		table.Rows = nil
		for _, kind := range rules.Words[rules.EffectKind]() {
			r := row(t, "row-"+strings.ReplaceAll(kind.String(), "_", "-"))
			r.Effect, r.When.Ranges = effects[kind](t), []rules.Range{rules.AtLeast(rules.Slope, 3)}
			r.When.Methods, r.When.Soil = rules.AnyOf(rules.BasalBark), rules.AnyOf(rules.SoilDry)
			r.Unless, r.During = []rules.Selector{r.When}, civil.Window{From: civil.DayOfYear{Month: 4, Day: 1}, To: civil.DayOfYear{Month: 9, Day: 30}}
			r.Effect = stated(r.Effect)
			table.Rows = append(table.Rows, r)
		}
		c := workedCase(t)
		c.Treatment.Method, c.Site.Form = rules.BasalBark, rules.Tree
		c.Site.Measures.Set(rules.Slope, 3)
		c.Site.Water.Set(rules.Lake, rules.WaterDistance{Distance: 4, Origin: rules.BankTop, State: rules.WaterDry})
		c.Site.Places.Set(rules.School, rules.PlaceDistance{Distance: 4})
		c.Treatment.DriftControl, c.Treatment.Categories = rules.DriftApproved, rules.AnyOf(rules.CertifiedForest)
		table.Cases = []rules.Case{c}
		return table
	}).Example(7)
	return rulewire.EncodeTable(&t)
}

// stated adds the parts of an effect that are messages or words of their own.
func stated(effect rules.Effect) rules.Effect {
	hours := rules.ClockHours{From: -30, To: 45, FromAnchor: rules.Sunrise, ToAnchor: rules.Sunset}
	switch e := effect.(type) {
	case rules.Buffer:
		e.Distance += 2
		e.Activity, e.Along = rules.Apply, rules.AlongSlope
		e.Reduction = rules.Reduction{Distance: 1, Evidence: "a survey", DecidedBy: "the district", RecordField: "reduction"}
		e.From, e.Allowance = rules.BankTop, rules.Allowance{Distance: 1, Basis: "a survey"}
		return e
	case rules.Setback:
		e.Hours = hours
		return e
	case rules.DailyHours:
		return rules.DailyHours{Open: hours}
	case rules.Cap:
		e.Over, e.RepeatsCounted = rules.OverSite, rules.No
		return e
	case rules.UseThreshold:
		return rules.UseThreshold{Length: 1, RepeatsCounted: rules.Yes, BothBanks: rules.No, Then: e.Then}
	case rules.RequireStanding:
		e.Categories |= rules.AnyOf(rules.CertifiedAquatic)
		return e
	case rules.WeatherLimit:
		e.Statistic = rules.Gust
		return e
	}
	return effect
}

// visit calls a function with every message of a message, itself included.
func visit(m protoreflect.Message, do func(protoreflect.Message)) {
	do(m)
	m.Range(func(f protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		switch {
		case f.Kind() != protoreflect.MessageKind:
		case f.IsList():
			for i := range v.List().Len() {
				visit(v.List().Get(i).Message(), do)
			}
		default:
			visit(v.Message(), do)
		}
		return true
	})
}

func TestAFieldThatNobodyKnowsIsRefusedWhereverItIs(t *testing.T) {
	seen := map[protoreflect.FullName]bool{}
	table := full()
	_, err := rulewire.DecodeTable(table)
	require.NoError(t, err)
	visit(table.ProtoReflect(), func(m protoreflect.Message) {
		seen[m.Descriptor().FullName()] = true
		m.SetUnknown(protoreflect.RawFields{0x98, 0x06, 0x01}) // field 99, the number 1
		_, err := rulewire.DecodeTable(table)
		assert.ErrorContains(t, err, "field 99", "%s", m.Descriptor().FullName())
		m.SetUnknown(nil)
	})
	messages := table.ProtoReflect().Descriptor().ParentFile().Messages()
	for i := range messages.Len() {
		assert.True(t, seen[messages.Get(i).FullName()], "the test never meets %s", messages.Get(i).FullName())
	}
}

func TestAWordThatNobodyKnowsIsRefusedWhereverItIs(t *testing.T) {
	table := full()
	met := 0
	try := func(where protoreflect.FullName, set func(protoreflect.Value), was protoreflect.EnumNumber) {
		for _, n := range []protoreflect.EnumNumber{99, -1, 1 << 20} {
			met++
			set(protoreflect.ValueOfEnum(n))
			_, err := rulewire.DecodeTable(table)
			assert.ErrorContains(t, err, "this program knows", "%s = %d", where, n)
		}
		set(protoreflect.ValueOfEnum(was))
	}
	visit(table.ProtoReflect(), func(m protoreflect.Message) {
		m.Range(func(f protoreflect.FieldDescriptor, v protoreflect.Value) bool {
			switch {
			case f.Kind() != protoreflect.EnumKind:
			case f.IsList():
				try(f.FullName(), func(v protoreflect.Value) { m.Mutable(f).List().Set(0, v) }, v.List().Get(0).Enum())
			default:
				try(f.FullName(), func(v protoreflect.Value) { m.Set(f, v) }, v.Enum())
			}
			return true
		})
	})
	assert.Greater(t, met, 3*60)
}

func TestAFaultNamesTheRow(t *testing.T) {
	cases := []struct {
		name   string
		change func(*pb.Table)
		want   string
	}{
		{"no manifest", func(t *pb.Table) { t.Manifest = nil }, "manifest: manifest: is missing"},
		{"no effect", func(t *pb.Table) { t.Rows[0].Effect = nil }, "row-prohibit: effect: is missing"},
		{"an effect of no kind", func(t *pb.Table) { t.Rows[0].Effect = &pb.Effect{} }, "row-prohibit: effect: is missing"},
		{"no id", func(t *pb.Table) { t.Rows[1].RuleId, t.Rows[1].Effect = "", nil }, "row 2: effect"},
		{"30 February", func(t *pb.Table) { t.Rows[0].ValidFrom.Month, t.Rows[0].ValidFrom.Day = 2, 30 }, "row-prohibit: valid_from: year "},
		{"a date without a day", func(t *pb.Table) { t.Manifest.ValidTo.Day = 0 }, "manifest: valid_to: year "},
		{"a date without a year", func(t *pb.Table) { t.Manifest.ReviewBy.Year = 0 }, "manifest: review_by: year 0"},
		{"month 13", func(t *pb.Table) { t.Rows[2].GetEffect().GetWindow().Open.From.Month = 13 }, "row-window: effect.window.open.from: day"},
		{"a word that is not stated in a list", func(t *pb.Table) { t.Rows[0].When.Methods = []commonv1.Method{0} }, "row-prohibit: when.methods: \"not stated\""},
		{"an infinite limit", func(t *pb.Table) { t.Rows[9].GetEffect().GetWeather().Max = ptr(inf) }, "row-weather: effect.weather: a limit is not a finite number"},
		{"a case without a treatment", func(t *pb.Table) { t.Cases[0].Name, t.Cases[0].Treatment = "first", nil }, "case first: treatment: is missing"},
		{"a case that expects nothing", func(t *pb.Table) { t.Cases[0].Name, t.Cases[0].Want = "first", 0 }, "case first: want: 0"},
		{"a measure twice", func(t *pb.Table) {
			s := t.Cases[0].Site
			t.Cases[0].Name, s.Measures = "first", []*pb.Measured{{Measure: 1}, {Measure: 1}}
		}, "case first: site.measures[1]: diameter_um is stated twice"},
		{"a negative distance", func(t *pb.Table) {
			t.Cases[0].Name, t.Cases[0].Site.Water = "first", []*pb.MeasuredWater{{WaterClass: 1, DistanceUm: -1}}
		}, "case first: site.water[0].distance_um: -1 is below zero"},
		{"a place twice", func(t *pb.Table) {
			t.Cases[0].Name, t.Cases[0].Site.Places = "first", []*pb.MeasuredPlace{{PlaceClass: 1}, {PlaceClass: 1}}
		}, "case first: site.places[1]: the distance to school is stated twice"},
		{"a negative distance to a place", func(t *pb.Table) {
			t.Cases[0].Name, t.Cases[0].Site.Places = "first", []*pb.MeasuredPlace{{PlaceClass: 1, DistanceUm: -1}}
		}, "case first: site.places[0].distance_um: -1 is below zero"},
		{"a place that is not stated", func(t *pb.Table) {
			t.Cases[0].Name, t.Cases[0].Site.Places = "first", []*pb.MeasuredPlace{{DistanceUm: 1}}
		}, "case first: site.places[0].place_class: is not stated"},
		{"a negative dose", func(t *pb.Table) { t.Cases[0].Name, t.Cases[0].Treatment.DosePermille = "first", -1 }, "case first: treatment.dose_permille: -1 is below zero"},
		{"a negative carrier", func(t *pb.Table) { t.Cases[0].Name, t.Cases[0].Treatment.CarrierMlPerHa = "first", -1 }, "case first: treatment.carrier_ml_per_ha: -1 is below zero"},
		{"a season without an end", func(t *pb.Table) { t.Rows[0].During.To = nil }, "row-prohibit: during.to: day 0 of month 0"},
		{"a word not stated in an exception", func(t *pb.Table) { t.Rows[0].Unless[0].Methods[0] = 0 }, "row-prohibit: unless[0].methods: \"not stated\""},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			table := full()
			c.change(table)
			_, err := rulewire.DecodeTable(table)
			var faults rules.Faults
			require.ErrorAs(t, err, &faults)
			assert.Len(t, faults, 1)
			assert.Contains(t, err.Error(), c.want)
		})
	}
}

var inf = math.Inf(1)

func ptr[T any](v T) *T { return &v }

func TestNoTableIsAFault(t *testing.T) {
	_, err := rulewire.DecodeTable(nil)
	assert.EqualError(t, err, "table: is missing")
}

func TestEveryFaultIsReportedAtOnce(t *testing.T) {
	table := full()
	table.Rows[0].Effect, table.Rows[1].ValidFrom.Day, table.Manifest.Layer = nil, 40, 99
	_, err := rulewire.DecodeTable(table)
	var faults rules.Faults
	require.ErrorAs(t, err, &faults)
	assert.Len(t, faults, 3)
}

func TestFaultsOfATreatmentAreByField(t *testing.T) {
	_, err := rulewire.DecodeTreatment(&pb.Treatment{Method: 99, ReleaseHeightUm: -2})
	var faults rules.Faults
	require.ErrorAs(t, err, &faults)
	assert.Equal(t, []string{"release_height_um", "method"}, []string{faults[0].Row, faults[1].Row})
	_, err = rulewire.DecodeSurroundings(&pb.Surroundings{Water: []*pb.MeasuredWater{{WaterClass: 1}, {WaterClass: 77}}})
	require.ErrorAs(t, err, &faults)
	assert.Equal(t, "water[1].water_class", faults[0].Row)
}

// An author's effect that is not of package rules is not taken for no effect.
func TestAnEffectOfAnotherTypeDoesNotArrive(t *testing.T) {
	type disguised struct{ rules.Effect }
	for _, e := range []rules.Effect{nil, disguised{rules.Prohibit{}}, &rules.Prohibit{}} {
		table := rules.Table{Rows: []rules.Row{{ID: "a", Effect: e}}}
		_, err := rulewire.DecodeTable(rulewire.EncodeTable(&table))
		require.ErrorContains(t, err, "a: effect: is missing")
	}
}

func TestANumberTooGreatForTheWireDoesNotWrapRound(t *testing.T) {
	sent := rules.Table{Rows: []rules.Row{{ID: "a", Effect: rules.EntryInterval{Hours: 1<<32 + 12}}}}
	assert.EqualValues(t, 1<<31-1, rulewire.EncodeTable(&sent).Rows[0].GetEffect().GetEntryInterval().GetHours())
}

// The numbers and the names of the words are the same on the wire and in Go.
func TestWordsAgree(t *testing.T) {
	agree[rules.Method](t, commonv1.Method(0))
	agree[rules.Equipment](t, commonv1.Equipment(0))
	agree[rules.Suckering](t, commonv1.Suckering(0))
	agree[rules.GrowthForm](t, commonv1.GrowthForm(0))
	agree[rules.FormulationKind](t, commonv1.FormulationKind(0))
	agree[rules.SoilActivity](t, commonv1.SoilActivity(0))
	agree[rules.AquaticLabel](t, commonv1.AquaticLabel(0))
	agree[rules.RestrictedUse](t, commonv1.RestrictedUse(0))
	agree[rules.ToxicityCategory](t, commonv1.ToxicityCategory(0))
	agree[rules.Droplet](t, commonv1.Droplet(0))
	agree[rules.LandUse](t, commonv1.LandUse(0))
	agree[rules.SoilState](t, commonv1.SoilState(0))
	agree[rules.BarkState](t, commonv1.BarkState(0))
	agree[rules.Desirable](t, commonv1.Desirable(0))
	agree[rules.RootCheck](t, commonv1.RootCheck(0))
	agree[rules.YesNo](t, commonv1.YesNo(0))
	agree[rules.WaterClass](t, commonv1.WaterClass(0))
	agree[rules.DistanceOrigin](t, commonv1.DistanceOrigin(0))
	agree[rules.Season](t, commonv1.Season(0))
	agree[rules.Standing](t, commonv1.Standing(0))
	agree[rules.Layer](t, commonv1.Layer(0))
	agree[rules.WeatherFactor](t, commonv1.WeatherFactor(0))
	agree[rules.Measure](t, commonv1.Measure(0))
	agree[rules.WaterState](t, commonv1.WaterState(0))
	agree[rules.PlaceClass](t, commonv1.PlaceClass(0))
	agree[rules.Activity](t, commonv1.Activity(0))
	agree[rules.DistanceAlong](t, commonv1.DistanceAlong(0))
	agree[rules.DriftControl](t, commonv1.DriftControl(0))
	agree[rules.CertificationCategory](t, commonv1.CertificationCategory(0))
	agree[rules.SiteFact](t, commonv1.SiteFact(0))
	agree[rules.Statistic](t, commonv1.Statistic(0))
	agree[rules.AreaCounted](t, commonv1.AreaCounted(0))
	agree[rules.ClockAnchor](t, pb.ClockAnchor(0))
}

func agree[V rules.Vocabulary](t *testing.T, zero protoreflect.Enum) {
	t.Helper()
	values := zero.Descriptor().Values()
	words := rules.Words[V]()
	if !assert.Len(t, words, values.Len()-1, "%s", zero.Descriptor().FullName()) {
		return
	}
	for _, v := range words {
		name := string(values.ByNumber(protoreflect.EnumNumber(v)).Name())
		word := strings.ToUpper(any(v).(interface{ String() string }).String())
		assert.True(t, strings.HasSuffix(name, "_"+word), "%s is %s on the wire", word, name)
	}
}

func TestDecisionsAreOneMoreOnTheWire(t *testing.T) {
	for _, d := range []rules.Decision{rules.Allowed, rules.Conditional, rules.Undetermined, rules.Prohibited} {
		wire := rulewire.EncodeDecision(d)
		assert.Equal(t, "DECISION_"+d.String(), wire.String())
		back, ok := rulewire.DecodeDecision(wire)
		assert.True(t, ok)
		assert.Equal(t, d, back)
	}
	for _, wire := range []commonv1.Decision{0, 5, -1} {
		got, ok := rulewire.DecodeDecision(wire)
		assert.False(t, ok)
		assert.Equal(t, rules.Undetermined, got, "what cannot be read is not allowed")
	}
}

func TestDates(t *testing.T) {
	assert.Nil(t, rulewire.EncodeDate(0))
	none, err := rulewire.DecodeDate(nil)
	require.NoError(t, err)
	assert.False(t, none.Known())
	for _, d := range []civil.Date{1, civil.Of(2024, 2, 29), civil.Of(9999, 12, 31)} {
		back, err := rulewire.DecodeDate(rulewire.EncodeDate(d))
		require.NoError(t, err)
		assert.Equal(t, d, back)
	}
}
