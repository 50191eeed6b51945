package treatment

import (
	"fmt"

	"example.org/rootward/rules"
)

// alwaysCautions stands under every answer.
func alwaysCautions() []string {
	return []string{
		"The label is the law and stands above this plan.",
		"Local codes and the judgement of a licensed practitioner stand above this plan.",
	}
}

// cautions lists what protects people, water and neighbours.
func (o *option) cautions(c *Choice) []string {
	list := o.method.cautions()
	if f := o.formulation; f != nil {
		list = append(list,
			fmt.Sprintf("Signal word %s. Wear what the label asks for, at least: %s.", f.SignalWord(), protection(f)),
			fmt.Sprintf("Nobody enters the treated area for %s.", rules.Several(c.EntryHours, "hour")),
			fmt.Sprintf("Exclusion zone while it is applied: %s.", zone(c)),
			fmt.Sprintf("No rain for %s after the treatment.", rules.Several(f.RainFreeHours, "hour")),
		)
		list = append(list, soilAndWater(f)...)
	}
	return append(list, alwaysCautions()...)
}

// protection is the least equipment by acute toxicity (40 CFR 156.212, 2015
// edition: gloves from category III, eyewear from II), with the long sleeves and
// closed shoes that are common practice.
func protection(f *Formulation) string {
	gloves := "waterproof gloves" // for products in water
	if f.Kind == rules.Ester {
		gloves = "chemical-resistant gloves"
	}
	wear := "long sleeves and trousers, closed shoes with socks, " + gloves
	if f.Toxicity == rules.CategoryI || f.Toxicity == rules.CategoryII {
		wear += ", coveralls, chemical-resistant footwear, protective eyewear"
	}
	return wear
}

func zone(c *Choice) string {
	if c.ExclusionZone == 0 {
		return "none for this equipment; keep bystanders away all the same"
	}
	return fmt.Sprintf("%.4g ft (%.3g m); stop while anyone is inside", c.ExclusionZone.Feet(), c.ExclusionZone.Metres())
}

func soilAndWater(f *Formulation) []string {
	var list []string
	if f.SoilActivity == rules.SoilStrong {
		list = append(list, "Roots take it up: untreated stems within 5 m (16.5 ft) were seen to be harmed ["+suckerTrial+", p. 59].")
	}
	if f.AquaticLabel == rules.AquaticNotRegistered {
		list = append(list, "Not registered for water: keep it, rinse water and spills out of every stream, pond, wetland, ditch and well.")
	}
	return list
}
