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
		return r.buffer(k.Buffer)
	case *pb.Effect_Setback:
		return r.setback(k.Setback)
	case *pb.Effect_Window:
		return rules.Window{Open: r.window("effect.window.open", k.Window.GetOpen())}
	case *pb.Effect_Season:
		return rules.InSeason{
			Season: word[rules.Season](r, "effect.season.season", k.Season.GetSeason()),
			During: r.window("effect.season.during", k.Season.GetDuring()),
		}
	case *pb.Effect_Cap:
		return rules.Cap{
			Active: k.Cap.GetActive(), Rate: quantity.ArealRate(k.Cap.GetRateUgPerAc()),
			Over:           word[rules.AreaCounted](r, "effect.cap.over", k.Cap.GetOver()),
			RepeatsCounted: word[rules.YesNo](r, "effect.cap.repeats_counted", k.Cap.GetRepeatsCounted()),
		}
	case *pb.Effect_Standing:
		return rules.RequireStanding{
			AtLeast:       word[rules.Standing](r, "effect.standing.at_least", k.Standing.GetAtLeast()),
			Categories:    set[rules.CertificationCategory](r, "effect.standing.categories", k.Standing.GetCategories()),
			MaxSupervised: int(k.Standing.GetMaxSupervised()),
		}
	case *pb.Effect_Computed:
		return rules.Computed{Method: k.Computed.GetMethod(), Needs: set[rules.SiteFact](r, "effect.computed.needs", k.Computed.GetNeeds())}
	}
	return r.condition(p)
}

func (r *reader) buffer(p *pb.Buffer) rules.Buffer {
	b := rules.Buffer{
		Water:    set[rules.WaterClass](r, "effect.buffer.water", p.GetWater()),
		Distance: quantity.Micrometres(p.GetDistanceUm()),
		From:     word[rules.DistanceOrigin](r, "effect.buffer.from", p.GetFrom()),
		Activity: word[rules.Activity](r, "effect.buffer.activity", p.GetActivity()),
		Along:    word[rules.DistanceAlong](r, "effect.buffer.along", p.GetAlong()),
		WhileWet: p.GetWhileWet(),
	}
	if d := p.GetReduction(); d != nil {
		b.Reduction = rules.Reduction{
			Distance: quantity.Micrometres(d.GetDistanceUm()), Evidence: d.GetEvidence(), DecidedBy: d.GetDecidedBy(), RecordField: d.GetRecordField(),
		}
	}
	if a := p.GetAllowance(); a != nil {
		b.Allowance = rules.Allowance{Distance: quantity.Micrometres(a.GetDistanceUm()), Basis: a.GetBasis()}
	}
	return b
}

func (r *reader) setback(p *pb.Setback) rules.Setback {
	return rules.Setback{
		Places:   set[rules.PlaceClass](r, "effect.setback.places", p.GetPlaces()),
		Distance: quantity.Micrometres(p.GetDistanceUm()),
		Hours:    r.hours("effect.setback.hours", p.GetHours()),
	}
}

func (r *reader) hours(field string, p *pb.ClockHours) rules.ClockHours {
	return rules.ClockHours{
		From: int(p.GetFromMin()), To: int(p.GetToMin()),
		FromAnchor: word[rules.ClockAnchor](r, field+".from_anchor", p.GetFromAnchor()),
		ToAnchor:   word[rules.ClockAnchor](r, field+".to_anchor", p.GetToAnchor()),
	}
}

// condition reads the effects that only set a condition or inform.
func (r *reader) condition(p *pb.Effect) rules.Effect {
	switch k := p.GetKind().(type) {
	case *pb.Effect_Permit:
		return rules.Permit{
			Name: k.Permit.GetName(), From: k.Permit.GetFrom(),
			ValidYears: int(k.Permit.GetValidYears()), Yearly: k.Permit.GetYearly(),
		}
	case *pb.Effect_Notice:
		return rules.Notice{
			To: k.Notice.GetTo(), MinDays: int(k.Notice.GetMinDays()), MaxDays: int(k.Notice.GetMaxDays()),
			Within: quantity.Micrometres(k.Notice.GetWithinUm()), RainDates: int(k.Notice.GetRainDates()),
			By: k.Notice.GetBy(), Languages: some(k.Notice.GetLanguages()),
		}
	case *pb.Effect_Posting:
		return rules.Posting{
			Says: k.Posting.GetSays(), Every: quantity.Micrometres(k.Posting.GetEveryUm()),
			EarliestHours: int(k.Posting.GetEarliestHours()), RemoveWithinDays: int(k.Posting.GetRemoveWithinDays()),
			Width: quantity.Micrometres(k.Posting.GetWidthUm()), Height: quantity.Micrometres(k.Posting.GetHeightUm()), Until: k.Posting.GetUntil(),
		}
	case *pb.Effect_Weather:
		return r.weather(k.Weather)
	case *pb.Effect_Record:
		return rules.Record{
			Fields: some(k.Record.GetFields()), WithinDays: int(k.Record.GetWithinDays()), KeepYears: int(k.Record.GetKeepYears()),
			WithinHours: int(k.Record.GetWithinHours()),
		}
	case *pb.Effect_EntryInterval:
		return rules.EntryInterval{Hours: int(k.EntryInterval.GetHours())}
	case *pb.Effect_ExclusionZone:
		return rules.ExclusionZone{Radius: quantity.Micrometres(k.ExclusionZone.GetRadiusUm())}
	case *pb.Effect_DailyHours:
		return rules.DailyHours{Open: r.hours("effect.daily_hours.open", k.DailyHours.GetOpen())}
	case *pb.Effect_UseThreshold:
		return r.useThreshold(k.UseThreshold)
	case *pb.Effect_Lookup:
		return rules.Lookup{
			Register: k.Lookup.GetRegister(), Within: quantity.Micrometres(k.Lookup.GetWithinUm()),
			MaxDays: int(k.Lookup.GetMaxDays()), Then: k.Lookup.GetThen(),
		}
	case *pb.Effect_Warn:
		return rules.Warn{Message: k.Warn.GetMessage()}
	}
	r.add("effect", "is missing or of a kind this program does not know; a restriction that cannot be read is not skipped")
	return nil
}

func (r *reader) useThreshold(p *pb.UseThreshold) rules.UseThreshold {
	return rules.UseThreshold{
		Area: quantity.SquareMillimetres(p.GetAreaMm2()), Length: quantity.Micrometres(p.GetLengthUm()),
		RepeatsCounted: word[rules.YesNo](r, "effect.use_threshold.repeats_counted", p.GetRepeatsCounted()),
		BothBanks:      word[rules.YesNo](r, "effect.use_threshold.both_banks", p.GetBothBanks()),
		Then:           p.GetThen(), SingleArea: p.GetSingleArea(),
	}
}

func (r *reader) weather(p *pb.WeatherLimit) rules.WeatherLimit {
	p = cmp.Or(p, &pb.WeatherLimit{})
	w := rules.WeatherLimit{Factor: word[rules.WeatherFactor](r, "effect.weather.factor", p.GetFactor())}
	w.Statistic = word[rules.Statistic](r, "effect.weather.statistic", p.GetStatistic())
	w.OverMinutes = int(p.GetOverMinutes())
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
