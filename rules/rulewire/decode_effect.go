package rulewire

import (
	"cmp"
	"math"
	"time"

	pb "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
)

// effect reads what a row does. No kind, or one that is not known, gives nil and
// a fault.
func (r *reader) effect(p *pb.Effect) rules.Effect {
	switch k := p.GetKind().(type) {
	case *pb.Effect_Prohibit:
		return rules.Prohibit{}
	case *pb.Effect_Buffer:
		return rules.Buffer{
			Water:    set[rules.WaterClass](r, "effect.buffer.water", k.Buffer.GetWater()),
			Distance: quantity.Micrometres(k.Buffer.GetDistanceUm()),
			From:     word[rules.DistanceOrigin](r, "effect.buffer.from", k.Buffer.GetFrom()),
		}
	case *pb.Effect_Window:
		return rules.Window{Open: r.window("effect.window.open", k.Window.GetOpen())}
	case *pb.Effect_Season:
		return rules.InSeason{
			Season: word[rules.Season](r, "effect.season.season", k.Season.GetSeason()),
			During: r.window("effect.season.during", k.Season.GetDuring()),
		}
	case *pb.Effect_Cap:
		return rules.Cap{Active: k.Cap.GetActive(), Rate: quantity.ArealRate(k.Cap.GetRateUgPerAc())}
	case *pb.Effect_Standing:
		return rules.RequireStanding{AtLeast: word[rules.Standing](r, "effect.standing.at_least", k.Standing.GetAtLeast())}
	case *pb.Effect_Permit:
		return rules.Permit{Name: k.Permit.GetName(), From: k.Permit.GetFrom()}
	}
	return r.condition(p)
}

// condition reads the effects that only set a condition or inform.
func (r *reader) condition(p *pb.Effect) rules.Effect {
	switch k := p.GetKind().(type) {
	case *pb.Effect_Notice:
		return rules.Notice{
			To: k.Notice.GetTo(), MinDays: int(k.Notice.GetMinDays()), MaxDays: int(k.Notice.GetMaxDays()),
			Within: quantity.Micrometres(k.Notice.GetWithinUm()), RainDates: int(k.Notice.GetRainDates()),
		}
	case *pb.Effect_Posting:
		return rules.Posting{
			Says: k.Posting.GetSays(), Every: quantity.Micrometres(k.Posting.GetEveryUm()),
			EarliestHours: int(k.Posting.GetEarliestHours()), RemoveWithinDays: int(k.Posting.GetRemoveWithinDays()),
		}
	case *pb.Effect_Weather:
		return r.weather(k.Weather)
	case *pb.Effect_Record:
		return rules.Record{
			Fields: some(k.Record.GetFields()), WithinDays: int(k.Record.GetWithinDays()), KeepYears: int(k.Record.GetKeepYears()),
		}
	case *pb.Effect_EntryInterval:
		return rules.EntryInterval{Hours: int(k.EntryInterval.GetHours())}
	case *pb.Effect_ExclusionZone:
		return rules.ExclusionZone{Radius: quantity.Micrometres(k.ExclusionZone.GetRadiusUm())}
	case *pb.Effect_Warn:
		return rules.Warn{Message: k.Warn.GetMessage()}
	}
	r.add("effect", "is missing or of a kind this program does not know; a restriction that cannot be read is not skipped")
	return nil
}

func (r *reader) weather(p *pb.WeatherLimit) rules.WeatherLimit {
	p = cmp.Or(p, &pb.WeatherLimit{})
	w := rules.WeatherLimit{Factor: word[rules.WeatherFactor](r, "effect.weather.factor", p.GetFactor())}
	if p.Min != nil {
		w.Min, w.HasMin = *p.Min, true
	}
	if p.Max != nil {
		w.Max, w.HasMax = *p.Max, true
	}
	for _, limit := range []float64{w.Min, w.Max} {
		if math.IsNaN(limit) || math.IsInf(limit, 0) {
			r.add("effect.weather", "a limit is not a finite number")
		}
	}
	return w
}

func (r *reader) window(field string, p *pb.Window) civil.Window {
	return civil.Window{From: r.day(field+".from", p.GetFrom()), To: r.day(field+".to", p.GetTo())}
}

func (r *reader) day(field string, p *pb.DayOfYear) civil.DayOfYear {
	d := civil.DayOfYear{Month: time.Month(p.GetMonth()), Day: int(p.GetDay())}
	if !d.Valid() {
		r.add(field, "day %d of month %d is not in the calendar", p.GetDay(), p.GetMonth())
	}
	return d
}
