package api

import (
	"context"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/server/treatment"
)

// Calibrate turns a measurement in the field into a setting.
func (s *Treatment) Calibrate(_ context.Context, q *treatmentv1.CalibrateRequest) (*treatmentv1.CalibrateResponse, error) {
	switch m := q.GetMeasurement().(type) {
	case *treatmentv1.CalibrateRequest_TimeDistance:
		t := treatment.TimeDistance{
			Output: m.TimeDistance.GetOutputGalPerMin(), Distance: m.TimeDistance.GetDistanceFt(),
			Time: m.TimeDistance.GetTimeS(), Swath: m.TimeDistance.GetSwathIn(),
		}
		return spray(t.GallonsPerAcre())
	case *treatmentv1.CalibrateRequest_SmallPlot:
		t := treatment.SmallPlot{
			Length: m.SmallPlot.GetLengthFt(), Width: m.SmallPlot.GetWidthFt(), Caught: m.SmallPlot.GetCaughtFlOz(),
		}
		return spray(t.GallonsPerAcre())
	case *treatmentv1.CalibrateRequest_Weighing:
		return wettingRate(m.Weighing)
	}
	f := faults{}
	f.add("measurement", "is missing: send time_distance, small_plot or weighing")
	return nil, f.err()
}

func spray(gallons float64, working []string, list []treatment.FieldFault) (*treatmentv1.CalibrateResponse, error) {
	if f := (faults{list}); len(list) > 0 {
		return nil, f.err()
	}
	litres := treatment.LitresPerHectare(gallons)
	return &treatmentv1.CalibrateResponse{GalPerAc: &gallons, LPerHa: &litres, Working: working}, nil
}

func wettingRate(m *treatmentv1.Weighing) (*treatmentv1.CalibrateResponse, error) {
	w := treatment.Weighing{Before: m.GetBeforeG(), After: m.GetAfterG(), Density: m.GetDensityGPerMl()}
	for _, t := range m.GetStems() {
		w.Stems = append(w.Stems, treatment.TreatedStem{Diameter: t.GetDiameterIn(), Band: t.GetBandIn(), Count: t.GetCount()})
	}
	rate, working, list := w.WettingRate()
	if f := (faults{list}); len(list) > 0 {
		return nil, f.err()
	}
	wetting := rate.MillilitresPerSquareInch()
	return &treatmentv1.CalibrateResponse{WettingMlPerIn2: &wetting, Working: working}, nil
}
