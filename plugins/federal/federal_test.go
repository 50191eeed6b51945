package main

import (
	"testing"

	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulesdk"
	"example.org/rootward/rules/ruletest"
	"github.com/stretchr/testify/assert"
)

func TestRules(t *testing.T) { ruletest.Run(t, table, ".") }

// A registration number names one product of one maker.
func TestNoCitationNamesAProduct(t *testing.T) {
	for _, r := range table().Rows {
		assert.NotRegexp(t, `(?i)reg(istration|\.) (no\. )?\d`, r.Citation, r.ID)
	}
}

// Values of 40 CFR 170.405(a) as of 2024-12-03, and arithmetic: 12 in is exactly
// 304,800 micrometres.
func TestExclusionZones(t *testing.T) {
	cases := []struct {
		name   string
		change func(*rules.Treatment)
		want   string
	}{
		{"backpack, medium droplets, 13 in", spraying(rules.Backpack, rules.DropletMedium, 13*quantity.Inch), "zone-high-release"},
		{"backpack, medium droplets, a micrometre above 12 in", spraying(rules.Backpack, rules.DropletMedium, 304_801), "zone-high-release"},
		{"backpack, medium droplets, 12 in", spraying(rules.Backpack, rules.DropletMedium, 304_800), "zone-low-release"},
		{"handgun, medium droplets, 60 in", spraying(rules.Handgun, rules.DropletMedium, 60*quantity.Inch), "zone-high-release"},
		{"backpack, fine droplets, 6 in", spraying(rules.Backpack, rules.DropletFine, 6*quantity.Inch), "zone-fine-droplets"},
		{"aircraft", spraying(rules.Aerial, rules.DropletMedium, 100*quantity.Foot), "zone-aerial"},
		{"air blast", spraying(rules.Mistblower, rules.DropletMedium, 4*quantity.Foot), "zone-air-blast"},
		{"hack-and-squirt", func(t *rules.Treatment) {
			t.Method, t.Equipment, t.Droplet, t.ReleaseHeight = rules.HackAndSquirt, rules.HandTool, rules.DropletNone, 0
		}, "zone-no-spray"},
		{"cut stump", func(t *rules.Treatment) {
			t.Method, t.Equipment, t.Droplet, t.ReleaseHeight = rules.CutStump, rules.HandTool, rules.DropletNone, 0
		}, "zone-no-spray"},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			said := ruletest.Said(t, table(), rulesdk.Case(foliar(), c.name, rulesdk.With(c.change)))
			assert.Equal(t, []string{c.want}, of(rules.KindExclusionZone, said))
		})
	}
}

func spraying(e rules.Equipment, d rules.Droplet, height quantity.Micrometres) func(*rules.Treatment) {
	return func(t *rules.Treatment) { t.Equipment, t.Droplet, t.ReleaseHeight = e, d, height }
}

// 7 CFR 110 was rescinded with effect from 2025-07-11 (FR Doc. 2025-08220).
func TestPrivateRecordEnds(t *testing.T) {
	restricted := rulesdk.With(func(t *rules.Treatment) { t.RestrictedUse = rules.RestrictedUseProduct })
	for on, want := range map[civil.Date][]string{
		civil.Of(2025, 7, 10): {"record-commercial-restricted-use", "record-private-restricted-use"},
		civil.Of(2025, 7, 11): {"record-commercial-restricted-use"},
	} {
		c := rulesdk.Case(foliar(), on.String(), restricted)
		c.On = on
		assert.ElementsMatch(t, want, of(rules.KindRecord, ruletest.Said(t, table(), c)), on.String())
	}
}

// The hours of 40 CFR 156.208(c)(2) (2015 edition).
func TestEntryHours(t *testing.T) {
	want := map[rules.ToxicityCategory]int{rules.CategoryI: 48, rules.CategoryII: 24, rules.CategoryIII: 12, rules.CategoryIV: 12}
	for category, hours := range want {
		c := rulesdk.Case(foliar(), category.String(), rulesdk.With(func(t *rules.Treatment) { t.Toxicity = category }))
		applying := of(rules.KindEntryInterval, ruletest.Said(t, table(), c))
		if assert.Len(t, applying, 1) {
			assert.Equal(t, rules.EntryInterval{Hours: hours}, rowOf(applying[0]).Effect)
		}
	}
}

func of(kind rules.EffectKind, said map[string]rules.Decision) []string {
	var ids []string
	for id := range said {
		if rowOf(id).Effect.Kind() == kind {
			ids = append(ids, id)
		}
	}
	return ids
}

func rowOf(id string) rules.Row {
	for _, r := range table().Rows {
		if r.ID == id {
			return r
		}
	}
	return rules.Row{}
}
