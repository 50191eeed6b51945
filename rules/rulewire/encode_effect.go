package rulewire

import (
	"math"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	pb "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

func encodeEffect(effect rules.Effect) *pb.Effect {
	switch e := effect.(type) {
	case rules.Prohibit:
		return &pb.Effect{Kind: &pb.Effect_Prohibit{Prohibit: &pb.Prohibit{}}}
	case rules.Buffer:
		return &pb.Effect{Kind: &pb.Effect_Buffer{Buffer: encodeBuffer(&e)}}
	case rules.Setback:
		return &pb.Effect{Kind: &pb.Effect_Setback{Setback: &pb.Setback{
			Places:     encodeSet[commonv1.PlaceClass](e.Places),
			DistanceUm: int64(e.Distance),
			Hours:      encodeHours(e.Hours),
		}}}
	case rules.Window:
		return &pb.Effect{Kind: &pb.Effect_Window{Window: &pb.TreatmentWindow{Open: encodeWindow(e.Open)}}}
	case rules.InSeason:
		return &pb.Effect{Kind: &pb.Effect_Season{Season: &pb.InSeason{
			Season: Encode[commonv1.Season](e.Season), During: encodeWindow(e.During),
		}}}
	case rules.Cap:
		return &pb.Effect{Kind: &pb.Effect_Cap{Cap: &pb.Cap{
			Active: e.Active, RateUgPerAc: int64(e.Rate),
			Over: Encode[commonv1.AreaCounted](e.Over), RepeatsCounted: Encode[commonv1.YesNo](e.RepeatsCounted),
		}}}
	case rules.RequireStanding:
		return &pb.Effect{Kind: &pb.Effect_Standing{Standing: &pb.RequireStanding{
			AtLeast:       Encode[commonv1.Standing](e.AtLeast),
			Categories:    encodeSet[commonv1.CertificationCategory](e.Categories),
			MaxSupervised: small(e.MaxSupervised),
		}}}
	case rules.Computed:
		return &pb.Effect{Kind: &pb.Effect_Computed{Computed: &pb.Computed{
			Method: e.Method, Needs: encodeSet[commonv1.SiteFact](e.Needs),
		}}}
	}
	return encodeCondition(effect)
}

func encodeBuffer(b *rules.Buffer) *pb.Buffer {
	p := &pb.Buffer{
		Water:      encodeSet[commonv1.WaterClass](b.Water),
		DistanceUm: int64(b.Distance),
		From:       Encode[commonv1.DistanceOrigin](b.From),
		Activity:   Encode[commonv1.Activity](b.Activity),
		Along:      Encode[commonv1.DistanceAlong](b.Along),
		WhileWet:   b.WhileWet,
	}
	if r := b.Reduction; r.Stated() {
		p.Reduction = &pb.Reduction{DistanceUm: int64(r.Distance), Evidence: r.Evidence, DecidedBy: r.DecidedBy, RecordField: r.RecordField}
	}
	if a := b.Allowance; a.Stated() {
		p.Allowance = &pb.Allowance{DistanceUm: int64(a.Distance), Basis: a.Basis}
	}
	return p
}

// encodeHours writes no hours for the zero value, which reading takes for all day.
func encodeHours(h rules.ClockHours) *pb.ClockHours {
	if !h.Stated() {
		return nil
	}
	return &pb.ClockHours{
		FromMin: small(h.From), ToMin: small(h.To),
		FromAnchor: Encode[pb.ClockAnchor](h.FromAnchor), ToAnchor: Encode[pb.ClockAnchor](h.ToAnchor),
	}
}

// encodeCondition writes the effects that only set a condition or inform.
func encodeCondition(effect rules.Effect) *pb.Effect {
	switch e := effect.(type) {
	case rules.Permit:
		return &pb.Effect{Kind: &pb.Effect_Permit{Permit: &pb.Permit{
			Name: e.Name, From: e.From, ValidYears: small(e.ValidYears), Yearly: e.Yearly,
		}}}
	case rules.Notice:
		return &pb.Effect{Kind: &pb.Effect_Notice{Notice: &pb.Notice{
			To: e.To, MinDays: small(e.MinDays), MaxDays: small(e.MaxDays),
			WithinUm: int64(e.Within), RainDates: small(e.RainDates),
			By: e.By, Languages: e.Languages,
		}}}
	case rules.Posting:
		return &pb.Effect{Kind: &pb.Effect_Posting{Posting: &pb.Posting{
			Says: e.Says, EveryUm: int64(e.Every),
			EarliestHours: small(e.EarliestHours), RemoveWithinDays: small(e.RemoveWithinDays),
			WidthUm: int64(e.Width), HeightUm: int64(e.Height), Until: e.Until,
		}}}
	case rules.WeatherLimit:
		return &pb.Effect{Kind: &pb.Effect_Weather{Weather: encodeWeather(e)}}
	case rules.Record:
		return &pb.Effect{Kind: &pb.Effect_Record{Record: &pb.Record{
			Fields: e.Fields, WithinDays: small(e.WithinDays), KeepYears: small(e.KeepYears),
			WithinHours: small(e.WithinHours),
		}}}
	case rules.EntryInterval:
		return &pb.Effect{Kind: &pb.Effect_EntryInterval{EntryInterval: &pb.EntryInterval{Hours: small(e.Hours)}}}
	case rules.ExclusionZone:
		return &pb.Effect{Kind: &pb.Effect_ExclusionZone{ExclusionZone: &pb.ExclusionZone{RadiusUm: int64(e.Radius)}}}
	case rules.DailyHours:
		return &pb.Effect{Kind: &pb.Effect_DailyHours{DailyHours: &pb.DailyHours{Open: encodeHours(e.Open)}}}
	case rules.UseThreshold:
		return &pb.Effect{Kind: &pb.Effect_UseThreshold{UseThreshold: encodeThreshold(&e)}}
	case rules.Lookup:
		return &pb.Effect{Kind: &pb.Effect_Lookup{Lookup: &pb.Lookup{
			Register: e.Register, WithinUm: int64(e.Within), MaxDays: small(e.MaxDays), Then: e.Then,
		}}}
	case rules.Warn:
		return &pb.Effect{Kind: &pb.Effect_Warn{Warn: &pb.Warn{Message: e.Message}}}
	}
	return nil
}

func encodeThreshold(u *rules.UseThreshold) *pb.UseThreshold {
	return &pb.UseThreshold{
		AreaMm2: int64(u.Area), LengthUm: int64(u.Length),
		RepeatsCounted: Encode[commonv1.YesNo](u.RepeatsCounted), BothBanks: Encode[commonv1.YesNo](u.BothBanks),
		Then: u.Then, SingleArea: u.SingleArea,
	}
}

// small keeps a number too great for the wire so great that reading refuses it,
// where wrapping round might make a harmless one of it.
func small(v int) int32 { return int32(max(math.MinInt32, min(v, math.MaxInt32))) }

func encodeWeather(w rules.WeatherLimit) *pb.WeatherLimit {
	p := &pb.WeatherLimit{
		Factor: Encode[commonv1.WeatherFactor](w.Factor), Statistic: Encode[commonv1.Statistic](w.Statistic), OverMinutes: small(w.OverMinutes),
	}
	if w.HasMin {
		p.Min = &w.Min
	}
	if w.HasMax {
		p.Max = &w.Max
	}
	return p
}

func encodeWindow(w civil.Window) *pb.Window {
	return &pb.Window{From: encodeDay(w.From), To: encodeDay(w.To)}
}

func encodeDay(d civil.DayOfYear) *pb.DayOfYear {
	return &pb.DayOfYear{Month: int32(d.Month), Day: int32(d.Day)}
}
