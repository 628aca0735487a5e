package lives

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"gullet/config"
)

// severitySD is the standard deviation of ln weight about the configured
// severity. The shop lives it comes from are common practice and told as ranges
// of a factor of 2, ±1.2 standard deviations here.
const severitySD = 0.3

// assumedSD holds a weight where it is: nobody said what the material is.
const assumedSD = 1e-4

// notConfigured is the class of what nobody configured. It counts as the
// reference class.
const notConfigured = "not configured"

// materials is what the shop cuts, by class, and how it wears blades.
type materials struct {
	cfg       *config.Config
	grades    map[string]material // by name as the saw sent it
	classes   []Class
	index     map[string]int
	reference int
	factor    []float64 // ln(weight/severity) by class; nil before they are weighed
	doubt     []float64 // standard error of that
}

// newMaterials gathers the classes of the grades with their areas. A class's
// severity is the mean over what was cut of it.
func newMaterials(grades map[string]float64, cfg *config.Config) materials {
	m := materials{cfg: cfg, grades: map[string]material{}, index: map[string]int{}}
	area, worn := map[string]float64{}, map[string]float64{}
	simple := map[string]float64{} // classes of severity 1, which the others are relative to
	for grade, cut := range grades {
		class, severity := m.lookup(grade)
		area[class] += cut
		worn[class] += cut * severity
		if severity == 1 && class != notConfigured {
			simple[class] += cut
		}
	}
	reference := most(simple)
	if reference == "" {
		for _, g := range cfg.Grades {
			if g.Severity == 1 {
				reference = g.Class
				break
			}
		}
		reference = cmp.Or(reference, notConfigured)
		area[reference] += 0
	}
	for class := range area {
		severity := 1.0
		if area[class] > 0 {
			severity = worn[class] / area[class]
		}
		m.classes = append(m.classes, Class{Name: class, Severity: severity, Fixed: class == notConfigured})
	}
	slices.SortFunc(m.classes, func(a, b Class) int { return cmp.Compare(a.Name, b.Name) })
	for i, c := range m.classes {
		m.index[c.Name] = i
	}
	m.reference = m.index[reference]
	return m
}

// material is a grade's class and severity.
type material struct {
	name     string // its own, or as it came where it is not configured
	class    string
	severity float64
}

// lookup is the class of a grade and its severity.
func (m *materials) lookup(grade string) (class string, severity float64) {
	known := m.material(grade)
	return known.class, known.severity
}

// material remembers: a grade is asked for with every cut.
func (m *materials) material(grade string) material {
	known, ok := m.grades[grade]
	if !ok {
		known = material{grade, notConfigured, 1}
		if g, ok := m.cfg.GradeOf(grade); ok {
			known = material{g.Name, g.Class, g.Severity}
		}
		m.grades[grade] = known
	}
	return known
}

func (m *materials) list() []Class { return slices.Clone(m.classes) }

// of is the class of a grade and how fast it wears relative to that class.
func (m *materials) of(grade string) (class int, wear float64) {
	name, severity := m.lookup(grade)
	i, ok := m.index[name]
	if !ok {
		return -1, 1
	}
	return i, severity / m.classes[i].Severity
}

// cut is in² by class, each grade by how fast it wears relative to its class.
func (m *materials) cut(grades map[string]float64) []float64 {
	cut := make([]float64, len(m.classes))
	for grade, area := range grades {
		if i, wear := m.of(grade); i >= 0 {
			cut[i] += area * wear
		}
	}
	return cut
}

// byClass is in² by the name of the class.
func (m *materials) byClass(grades map[string]float64) map[string]float64 {
	sums := map[string]float64{}
	for grade, area := range grades {
		class, _ := m.lookup(grade)
		sums[class] += area
	}
	return sums
}

// ClassCut is what a blade cut of one class of material.
type ClassCut struct {
	Name       string
	Area       float64 // in²
	Weight     float64 // wear per in², the mean over what was cut of it
	Configured bool
}

// Classes is what a blade cut, by class.
func (s *Shop) Classes(b *Blade) []ClassCut {
	worn := map[string]float64{}
	for grade, area := range b.grades {
		class, _ := s.mix.lookup(grade)
		worn[class] += area * s.Weight(grade)
	}
	sums := s.mix.byClass(b.grades)
	var list []ClassCut
	for _, name := range slices.Sorted(maps.Keys(sums)) {
		c := ClassCut{Name: name, Area: sums[name], Weight: 1, Configured: name != notConfigured}
		if c.Area > 0 {
			c.Weight = worn[name] / c.Area
		}
		list = append(list, c)
	}
	return list
}

// Grade is a grade by its own name, by whichever it came.
func (s *Shop) Grade(name string) string { return s.mix.material(name).name }

// Weight is how much faster an in² of a grade wears a blade than one of the
// reference class.
func (s *Shop) Weight(grade string) float64 {
	_, severity := s.mix.lookup(grade)
	if i, _ := s.mix.of(grade); i >= 0 && s.mix.factor != nil {
		return severity * math.Exp(s.mix.factor[i])
	}
	return severity
}

func (s *Shop) weighted(b *Blade) (sum float64) {
	for grade, area := range b.grades {
		sum += area * s.Weight(grade)
	}
	return sum
}

// weigh learns from the blades how the classes wear them, about the configured
// severities.
func (s *Shop) weigh() {
	grades := map[string]float64{}
	for _, b := range s.Blades {
		for grade, area := range b.grades {
			grades[grade] += area
		}
	}
	s.mix = newMaterials(grades, s.cfg)
	if len(s.mix.classes) == 1 {
		return // nothing to weigh against
	}
	d := s.Data([]string{ByType})
	w, err := settle(d)
	if err != nil {
		return // the configured severities hold
	}
	s.mix.factor, s.mix.doubt = make([]float64, len(d.Classes)), make([]float64, len(d.Classes))
	for i, c := range d.Classes {
		s.mix.factor[i] = w.Classes[i].LogWeight - math.Log(c.Severity/d.Classes[d.Reference].Severity)
		s.mix.doubt[i] = w.Classes[i].SE
	}
}

// Severities looks up the configured wear per in² of a class, the geometric
// mean of its grades, or of a grade.
func Severities(cfg *config.Config) func(string) (float64, bool) {
	return func(name string) (float64, bool) {
		sum, n := 0.0, 0.0
		for _, g := range cfg.Grades {
			if g.Class == name {
				sum += math.Log(g.Severity)
				n++
			}
		}
		if n > 0 {
			return math.Exp(sum / n), true
		}
		g, ok := cfg.GradeOf(name)
		return g.Severity, ok
	}
}
