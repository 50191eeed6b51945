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
		return &pb.Effect{Kind: &pb.Effect_Buffer{Buffer: &pb.Buffer{
			Water:      encodeSet[commonv1.WaterClass](e.Water),
			DistanceUm: int64(e.Distance),
			From:       Encode[commonv1.DistanceOrigin](e.From),
		}}}
	case rules.Window:
		return &pb.Effect{Kind: &pb.Effect_Window{Window: &pb.TreatmentWindow{Open: encodeWindow(e.Open)}}}
	case rules.InSeason:
		return &pb.Effect{Kind: &pb.Effect_Season{Season: &pb.InSeason{
			Season: Encode[commonv1.Season](e.Season), During: encodeWindow(e.During),
		}}}
	case rules.Cap:
		return &pb.Effect{Kind: &pb.Effect_Cap{Cap: &pb.Cap{Active: e.Active, RateUgPerAc: int64(e.Rate)}}}
	case rules.RequireStanding:
		return &pb.Effect{Kind: &pb.Effect_Standing{Standing: &pb.RequireStanding{
			AtLeast: Encode[commonv1.Standing](e.AtLeast),
		}}}
	case rules.Permit:
		return &pb.Effect{Kind: &pb.Effect_Permit{Permit: &pb.Permit{Name: e.Name, From: e.From}}}
	}
	return encodeCondition(effect)
}

// encodeCondition writes the effects that only set a condition or inform.
func encodeCondition(effect rules.Effect) *pb.Effect {
	switch e := effect.(type) {
	case rules.Notice:
		return &pb.Effect{Kind: &pb.Effect_Notice{Notice: &pb.Notice{
			To: e.To, MinDays: small(e.MinDays), MaxDays: small(e.MaxDays),
			WithinUm: int64(e.Within), RainDates: small(e.RainDates),
		}}}
	case rules.Posting:
		return &pb.Effect{Kind: &pb.Effect_Posting{Posting: &pb.Posting{
			Says: e.Says, EveryUm: int64(e.Every),
			EarliestHours: small(e.EarliestHours), RemoveWithinDays: small(e.RemoveWithinDays),
		}}}
	case rules.WeatherLimit:
		return &pb.Effect{Kind: &pb.Effect_Weather{Weather: encodeWeather(e)}}
	case rules.Record:
		return &pb.Effect{Kind: &pb.Effect_Record{Record: &pb.Record{
			Fields: e.Fields, WithinDays: small(e.WithinDays), KeepYears: small(e.KeepYears),
		}}}
	case rules.EntryInterval:
		return &pb.Effect{Kind: &pb.Effect_EntryInterval{EntryInterval: &pb.EntryInterval{Hours: small(e.Hours)}}}
	case rules.ExclusionZone:
		return &pb.Effect{Kind: &pb.Effect_ExclusionZone{ExclusionZone: &pb.ExclusionZone{RadiusUm: int64(e.Radius)}}}
	case rules.Warn:
		return &pb.Effect{Kind: &pb.Effect_Warn{Warn: &pb.Warn{Message: e.Message}}}
	}
	return nil
}

// small keeps a number too great for the wire so great that reading refuses it,
// where wrapping round might make a harmless one of it.
func small(v int) int32 { return int32(max(math.MinInt32, min(v, math.MaxInt32))) }

func encodeWeather(w rules.WeatherLimit) *pb.WeatherLimit {
	p := &pb.WeatherLimit{Factor: Encode[commonv1.WeatherFactor](w.Factor)}
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
