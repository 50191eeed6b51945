package treatment

import (
	"fmt"

	"example.org/rootward/rules"
	"example.org/rootward/rules/quantity"
)

// Settings are what the crew works with.
type Settings struct {
	FoliarReach  quantity.Micrometres
	BasalBand    quantity.Micrometres
	Wetting      quantity.WettingRate
	PerCut       quantity.Microlitres
	LowVolume    quantity.CarrierVolume
	HighVolume   quantity.CarrierVolume
	Formulations []string // ids of those at hand; empty: the whole catalogue
	Standing     rules.Standing
	Categories   rules.OneOf[rules.CertificationCategory] // none: not stated
	DriftControl rules.DriftControl
	Tank         quantity.Microlitres // of the backpack
	HandgunTank  quantity.Microlitres // that feeds the handgun
	Spare        quantity.PerMillion  // product to buy beyond the need
}

// DefaultSettings gives what holds where the crew states nothing else.
func DefaultSettings() Settings {
	return Settings{
		// 10 to 15 ft are within reach; the lower, so that the top is wetted too
		// (common practice, no source).
		FoliarReach: 10 * quantity.Foot,
		// About 15 in (Pacific Northwest Weed Management Handbook, basal bark).
		BasalBand: 15 * quantity.Inch,
		// No table is published; between 0.2 and 0.4 mL/in² (common practice, no
		// source). Calibrate by weighing the sprayer before and after.
		Wetting: quantity.MillilitresPerSquareInch(0.3),
		// 1 mL a cut (Pacific Northwest Weed Management Handbook, stem injection).
		PerCut: quantity.Millilitre,
		// 10 to 30 and 50 to 100 gallons per acre (from memory).
		LowVolume:  quantity.GallonsPerAcre(20),
		HighVolume: quantity.GallonsPerAcre(75),
		Tank:       quantity.Gallons(3),
		// Common practice, no source.
		HandgunTank: quantity.Gallons(100),
		// 5 to 15 % for missed stems (common practice, no source).
		Spare: quantity.Percent(10),
	}
}

// Check lists settings that no crew can mean, or that pass a published limit: the
// band is 12 to 18 in high (Rutgers Plant & Pest Advisory), the reach of a sprayer
// 10 to 15 ft, spray 10 to 30 and 50 to 100 gallons per acre (from memory). The
// other bounds, and the room round these, are common practice without a source.
func (s *Settings) Check(c *Catalogue) []FieldFault {
	var faults []FieldFault
	within := func(v, low, high float64, field, unit string) {
		if !(v >= low && v <= high) {
			faults = append(faults, FieldFault{"settings." + field, fmt.Sprintf("%.4g %s is not %.4g to %.4g", v, unit, low, high)})
		}
	}
	within(s.FoliarReach.Feet(), 1, 15, "foliar_reach_m", "ft")
	within(s.BasalBand.Inches(), 12, 18, "basal_band_cm", "in")
	within(s.Wetting.MillilitresPerSquareInch(), 0.01, 2, "wetting_ml_per_in2", "mL/in²")
	within(s.PerCut.Millilitres(), 0.1, 5, "cut_ml", "mL")
	within(s.LowVolume.GallonsPerAcre(), 1, 50, "low_volume_gal_per_ac", "gal/acre")
	within(s.HighVolume.GallonsPerAcre(), 20, 400, "high_volume_gal_per_ac", "gal/acre")
	within(s.Tank.Gallons(), 0.05, 1_000, "tank_gal", "gal")
	within(s.HandgunTank.Gallons(), 0.05, 10_000, "handgun_tank_gal", "gal")
	within(s.Spare.Percent(), 0, 100, "spare_percent", "%")
	for _, id := range s.Formulations {
		if c.Formulation(id) == nil {
			faults = append(faults, FieldFault{"settings.formulation_ids", fmt.Sprintf("%q is not in the catalogue; list it with its sources, or use one that is", id)})
		}
	}
	return faults
}

// carrier is the spray of a method in millilitres per hectare, a part of one dropped;
// zero, not known, for methods that do not spray an area.
func (s *Settings) carrier(m rules.Method) int64 {
	switch m {
	case rules.LowVolumeFoliar:
		return perHectare(s.LowVolume)
	case rules.HighVolumeFoliar:
		return perHectare(s.HighVolume)
	}
	return 0
}

func perHectare(c quantity.CarrierVolume) int64 {
	return int64(c.On(quantity.Hectare) / quantity.Millilitre)
}

// Formulation finds a formulation by id; nil if the catalogue has none.
func (c *Catalogue) Formulation(id string) *Formulation {
	for i := range c.Formulations {
		if c.Formulations[i].ID == id {
			return &c.Formulations[i]
		}
	}
	return nil
}
