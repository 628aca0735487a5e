package config

import (
	"math"

	"gullet/analyze"
)

// Where a grade's figures come from.
const (
	sourceHandbook = "handbook"        // band speed of a machining handbook; the rest is common practice
	sourcePractice = "common practice" // ranges quoted in shops, from memory
	sourceShop     = "shop"            // the shop's own file
)

// referenceLife is the middle of the life range of the reference grade, 1018:
// 8,000 to 15,000 in². It makes 1018 the grade of severity 1.
const referenceLife = 11_500

// lasting is a severity by the rule of linear damage (wear per in² relative to
// the reference = reference life ÷ life), from the middle of the range of blade
// lives that shops quote for the grade, in in². Two decimals are more than such
// ranges know.
func lasting(low, high float64) float64 {
	return math.Round(100*referenceLife/middle(low, high)) / 100
}

// middle is the middle of a range.
func middle(low, high float64) float64 { return (low + high) / 2 }

// defaultGrades are the grades Gullet knows before a shop says anything, for a
// bimetal blade with flood coolant in about 4 in of cut.
//
// Band speeds (ft/min) of source "handbook" were read in a machining handbook
// (Machinery's Handbook, 31st ed., p. 1245; the alignment of its rows was
// reconstructed from a scan). All other figures are common practice, from
// memory: rates (in²/min) are the middle of the range quoted, severities are
// either narrowed to one number for the eight materials of the demo shop
// (A36, A500, 1018 with 1045, 4140 annealed and prehard, 304 with 316, 17-4PH,
// 718) or follow from the life range (see lasting). Treat every one as a
// starting point that the shop's own records should replace.
//
// A class holds materials whose severities lie close enough that their lives
// may be looked at together. Hollow sections and rolled shapes are classes of
// their own: interrupted cuts wear a blade faster than the same steel in bar.
func defaultGrades() []analyze.Grade {
	h, p := sourceHandbook, sourcePractice
	return []analyze.Grade{
		{Name: "A36", Others: []string{"A36 shapes", "A572", "A572-50", "A992"}, Class: "shapes", Severity: 1.3, BandSpeed: 270, Rate: middle(4, 8), Source: h},
		{Name: "A500", Others: []string{"A500 HSS", "HSS", "A53", "pipe"}, Class: "hollow", Severity: 1.5, BandSpeed: middle(250, 300), Rate: middle(3, 7), Source: p},

		{Name: "1018", Others: []string{"1021", "1022", "1023", "1026"}, Class: "carbon", Severity: 1, BandSpeed: 300, Rate: middle(8, 12), Source: h},
		{Name: "1020", Others: []string{"1008", "1015", "1025"}, Class: "carbon", Severity: 1, BandSpeed: 320, Rate: middle(8, 12), Source: h},
		{Name: "1045", Class: "carbon", Severity: 1, BandSpeed: 220, Rate: middle(6, 9), Source: h},

		{Name: "1117", Class: "free-machining", Severity: lasting(10e3, 16e3), BandSpeed: 340, Rate: middle(10, 14), Source: h},
		{Name: "1144", Class: "free-machining", Severity: lasting(8e3, 14e3), BandSpeed: 280, Rate: middle(8, 12), Source: h},
		{Name: "12L14", Class: "free-machining", Severity: lasting(12e3, 20e3), BandSpeed: 425, Rate: middle(12, 16), Source: h},
		{Name: "1215", Others: []string{"1213"}, Class: "free-machining", Severity: lasting(12e3, 20e3), BandSpeed: 400, Rate: middle(12, 16), Source: h},

		{Name: "4130", Class: "alloy", Severity: lasting(7e3, 11e3), BandSpeed: 270, Rate: middle(6, 9), Source: h},
		{Name: "4140", Others: []string{"4140 annealed"}, Class: "alloy", Severity: 1.25, BandSpeed: 250, Rate: middle(6, 8), Source: h},
		{Name: "8620", Class: "alloy", Severity: lasting(6e3, 11e3), BandSpeed: 240, Rate: middle(6, 8), Source: h},
		{Name: "4140PH", Others: []string{"4140 prehard", "4140HT", "4140 28-32 HRC"}, Class: "tough-alloy", Severity: 2, BandSpeed: middle(160, 200), Rate: middle(3.5, 5.5), Source: p},
		{Name: "4150", Others: []string{"8640"}, Class: "tough-alloy", Severity: lasting(4e3, 8e3), BandSpeed: 200, Rate: middle(4, 6), Source: h},
		{Name: "4340", Others: []string{"4340 annealed"}, Class: "tough-alloy", Severity: lasting(5e3, 8e3), BandSpeed: 220, Rate: middle(5, 7), Source: h},
		{Name: "52100", Others: []string{"E52100"}, Class: "tough-alloy", Severity: lasting(4e3, 7e3), BandSpeed: 160, Rate: middle(4, 6), Source: h},

		{Name: "O1", Class: "tool-steel", Severity: lasting(3.5e3, 6e3), BandSpeed: 200, Rate: middle(3.5, 5), Source: h},
		{Name: "A2", Class: "tool-steel", Severity: lasting(3e3, 6e3), BandSpeed: 180, Rate: middle(3, 5), Source: h},
		{Name: "H13", Class: "tool-steel", Severity: lasting(3e3, 6e3), BandSpeed: 190, Rate: middle(3, 5), Source: h},
		{Name: "S7", Class: "tool-steel", Severity: lasting(3e3, 5e3), BandSpeed: 125, Rate: middle(3, 4.5), Source: h},
		{Name: "M2", Class: "high-alloy-tool-steel", Severity: lasting(2e3, 4e3), BandSpeed: 100, Rate: middle(1.5, 3), Source: h},
		{Name: "D2", Class: "high-alloy-tool-steel", Severity: lasting(2e3, 4e3), BandSpeed: 90, Rate: middle(1.5, 3), Source: h},

		{Name: "304", Others: []string{"304L"}, Class: "stainless", Severity: 3.2, BandSpeed: 120, Rate: middle(2, 3.5), Source: h},
		{Name: "316", Others: []string{"316L"}, Class: "stainless", Severity: 3.2, BandSpeed: middle(90, 110), Rate: middle(2, 3), Source: p},
		{Name: "410", Class: "martensitic-stainless", Severity: lasting(4e3, 7e3), BandSpeed: middle(130, 160), Rate: middle(3, 4.5), Source: p},
		{Name: "17-4PH", Others: []string{"17-4", "17-4PH cond. A"}, Class: "hardening-stainless", Severity: 3.8, BandSpeed: middle(70, 100), Rate: middle(1.5, 3), Source: p},
		{Name: "2205", Others: []string{"2205 duplex", "duplex"}, Class: "duplex", Severity: lasting(1.5e3, 3e3), BandSpeed: middle(60, 90), Rate: middle(1, 2), Source: p},
		{Name: "718", Others: []string{"alloy 718", "625", "alloy 625"}, Class: "nickel", Severity: 11, BandSpeed: middle(50, 80), Rate: middle(0.5, 1.2), Source: p},
		{Name: "Ti-6Al-4V", Class: "titanium", Severity: lasting(0.8e3, 2.5e3), BandSpeed: 70, Rate: middle(0.8, 1.8), Source: h},
		{Name: "pure titanium", Others: []string{"CP titanium"}, Class: "titanium", Severity: lasting(0.8e3, 2.5e3), BandSpeed: 80, Rate: middle(0.8, 1.8), Source: h},

		// Of these two only the least life is quoted (20,000 and 15,000 in² and
		// more), so their severity is the most it is likely to be.
		{Name: "6061-T6", Others: []string{"6061", "7075", "7075-T6"}, Class: "aluminum", Severity: lasting(20e3, 20e3), BandSpeed: 500, Rate: middle(15, 30), Source: p},
		{Name: "brass 360", Others: []string{"360 brass", "C360"}, Class: "brass", Severity: lasting(15e3, 15e3), BandSpeed: middle(400, 500), Rate: middle(10, 20), Source: p},

		{Name: "grey iron", Others: []string{"gray iron", "grey iron class 30", "grey iron class 40", "gray iron class 30", "gray iron class 40"}, Class: "cast-iron", Severity: lasting(5e3, 10e3), BandSpeed: middle(120, 200), Rate: middle(5, 9), Source: p},
		{Name: "65-45-12", Others: []string{"ductile 65-45-12", "ductile iron"}, Class: "cast-iron", Severity: lasting(5e3, 9e3), BandSpeed: middle(150, 220), Rate: middle(5, 8), Source: p},
		{Name: "80-55-06", Others: []string{"ductile 80-55-06"}, Class: "cast-iron", Severity: lasting(5e3, 9e3), BandSpeed: middle(110, 150), Rate: middle(4, 6), Source: p},
	}
}
