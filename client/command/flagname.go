package command

import "regexp"

// flagNames are the flags that set a field of the API's settings. Some count in
// another unit than the field, so that messages name both.
var flagNames = map[string]string{
	"foliar_reach_m": "--foliar-reach-ft", "basal_band_cm": "--basal-band-in", "wetting_ml_per_in2": "--wetting-ml-per-in2",
	"cut_ml": "--cut-ml", "low_volume_gal_per_ac": "--low-volume-gal-per-ac", "high_volume_gal_per_ac": "--high-volume-gal-per-ac",
	"formulation_ids": "--formulation", "standing": "--standing", "tank_gal": "--tank-gal", "spare_percent": "--spare-percent",
	"handgun_tank_gal": "--handgun-tank-gal", "categories": "--category", "drift_control": "--drift-control",
	"coordinate_uncertainty_m": "--coordinate-uncertainty-ft",
}

var settingsField = regexp.MustCompile(`\bsettings\.(\w+)(\[\d+\])?`)

// withFlags names the flag before each field of the settings in a server's message.
func withFlags(problem string) string {
	return settingsField.ReplaceAllStringFunc(problem, func(field string) string {
		flag := flagNames[settingsField.FindStringSubmatch(field)[1]]
		if flag == "" {
			return field
		}
		return flag + " (" + field + ")"
	})
}
