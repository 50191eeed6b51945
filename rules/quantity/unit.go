package quantity

// The units of whole numbers that stand for quantities, as they end the names of
// fields and measures (diameter_um, treated_area_mm2).

// Unit gives "um".
func (Micrometres) Unit() string { return "um" }

// Unit gives "mm2".
func (SquareMillimetres) Unit() string { return "mm2" }

// Unit gives "ug_per_ac", of acid equivalent.
func (ArealRate) Unit() string { return "ug_per_ac" }

// Unit gives "permillion".
func (PerMillion) Unit() string { return "permillion" }
