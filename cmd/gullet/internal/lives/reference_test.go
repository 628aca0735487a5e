package lives

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The wanted values of this file were made by R 4.2.2 with survival 3.5-3 and
// cmprsk 2.2-11 and by direct maximum likelihood; each folder's SOURCE names its
// data set. They are held against what a program reads: the list is read as a
// shop's own, studied, written as JSON and read back.
const referenceDir = "../../../../testdata/reference"

// How near a figure must be, relative to itself.
const (
	toPoint = 1e-6
	toLimit = 1e-4 // standard errors and limits
	toTest  = 1e-8
)

// reference is the answer to a folder's list and what is expected of it.
func reference(t *testing.T, name string, l List, limits Limits) (got, want any) {
	t.Helper()
	read(t, filepath.Join(referenceDir, name, "expected.json"), &want)
	l.File = filepath.Join(referenceDir, name, "input.csv")
	f, err := os.Open(l.File)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = f.Close() }()
	d, err := Read(f, l)
	if err != nil {
		t.Fatal(err)
	}
	return decoded(t, Study(d, d.GroupedBy(), limits)), want
}

func read(t *testing.T, path string, into any) {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, into); err != nil {
		t.Fatalf("%s: %v", path, err)
	}
}

// decoded is a report as a program reads it.
func decoded(t *testing.T, r *Report) (v any) {
	t.Helper()
	text, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// at is the value at a path such as groups.0.km.2.area.
func at(t *testing.T, v any, path string) any {
	t.Helper()
	for _, step := range strings.Split(path, ".") {
		switch x := v.(type) {
		case map[string]any:
			member, ok := x[step]
			if !ok {
				t.Fatalf("%s: there is no member %q", path, step)
			}
			v = member
		case []any:
			i := 0
			if _, err := fmt.Sscan(step, &i); err != nil || i >= len(x) {
				t.Fatalf("%s: there is no element %s of %d", path, step, len(x))
			}
			v = x[i]
		default:
			t.Fatalf("%s: %v has no %q", path, v, step)
		}
	}
	return v
}

// hold compares two values: null is null only to null, and numbers are the same
// within the tolerance.
func hold(t *testing.T, name string, got, want any, tolerance float64) {
	t.Helper()
	g, isNumber := got.(float64)
	w, wanted := want.(float64)
	switch {
	case isNumber && wanted:
		if !(math.Abs(g-w) <= tolerance*math.Abs(w)) {
			t.Errorf("%s is %.12g, want %.12g to %g", name, g, w, tolerance)
		}
	case got != want:
		t.Errorf("%s is %v, want %v", name, got, want)
	}
}

// members holds members of two values against each other. A pair "x=y" is the
// member x of the answer against y of the reference; "x" alone has one name.
func members(t *testing.T, prefix string, got, want any, tolerance float64, names ...string) {
	t.Helper()
	for _, name := range names {
		mine, theirs, two := strings.Cut(name, "=")
		if !two {
			theirs = mine
		}
		hold(t, prefix+mine, at(t, got, mine), at(t, want, theirs), tolerance)
	}
}

func TestReferenceLives(t *testing.T) {
	for _, name := range []string{
		"life-nist", "life-remission", "life-remission-treated", "life-bearings", "life-delayed", "life-one-end", "life-fans",
	} {
		t.Run(name, func(t *testing.T) {
			got, want := reference(t, name, List{}, Limits{})
			all := at(t, got, "groups.0")
			hold(t, "first group", at(t, all, "group"), "all", 0)
			curves(t, all, want, "low", "high")
			if n, wanted := len(at(t, all, "nelson_aalen").([]any)), len(at(t, want, "nelson_aalen").([]any)); n != wanted {
				t.Errorf("nelson_aalen has %d steps, want %d", n, wanted)
			}
			for i, step := range at(t, want, "nelson_aalen").([]any) {
				p := fmt.Sprintf("nelson_aalen.%d", i)
				members(t, p+".", at(t, all, p), step, toPoint, "area", "cumulative_hazard")
				members(t, p+".", at(t, all, p), step, toLimit, "std_error")
			}
			w, wanted := at(t, all, "weibull"), at(t, want, "weibull")
			members(t, "weibull.", w, wanted, toPoint, "shape", "scale", "mean", "loglik", "aic", "b10.value", "b50.value")
			members(t, "weibull.", w, wanted, toLimit, "log_shape_se", "log_scale_se", "covariance=log_covariance",
				"shape_low", "shape_high", "b10.low", "b10.high", "b50.low", "b50.high")
			members(t, "lognormal.", at(t, all, "lognormal"), at(t, want, "lognormal"), toPoint, "mu", "sigma", "loglik", "aic")
			members(t, "lognormal.", at(t, all, "lognormal"), at(t, want, "lognormal"), toLimit, "mu_se", "log_sigma_se")
			members(t, "exponential.", at(t, all, "exponential"), at(t, want, "exponential"), toPoint, "scale", "loglik", "aic")
		})
		t.Run(name+" with plain and wald limits", func(t *testing.T) {
			got, want := reference(t, name, List{}, Limits{Plain: true, Wald: true})
			all := at(t, got, "groups.0")
			curves(t, all, want, "plain_low", "plain_high")
			w, wanted := at(t, all, "weibull"), at(t, want, "weibull")
			members(t, "weibull.", w, wanted, toPoint, "shape", "scale", "b10.value", "b50.value")
			members(t, "weibull.", w, wanted, toLimit, "shape_low=shape_wald_low", "shape_high=shape_wald_high",
				"b10.low=b10.wald_low", "b10.high=b10.wald_high", "b50.low=b50.wald_low", "b50.high=b50.wald_high")
		})
	}
}

// curves holds the Kaplan-Meier curve and its median to those expected, with
// limits of the names given.
func curves(t *testing.T, all, want any, low, high string) {
	t.Helper()
	steps := at(t, want, "km").([]any)
	if n := len(at(t, all, "km").([]any)); n != len(steps) {
		t.Fatalf("%d steps, want %d", n, len(steps))
	}
	for i, step := range steps {
		p := fmt.Sprintf("km.%d", i)
		members(t, p+".", at(t, all, p), step, toPoint, "area", "at_risk", "ended", "survival")
		if at(t, step, "survival") == 0.0 {
			// The reference library writes 0 or nothing for an error that is no
			// number; nothing is left, so the answer has none.
			members(t, p+".", at(t, all, p), map[string]any{"none": nil}, 0, "std_error=none", "low=none", "high=none")
			continue
		}
		members(t, p+".", at(t, all, p), step, toLimit, "std_error", "low="+low, "high="+high)
	}
	members(t, "median.", at(t, all, "median"), at(t, want, "median"), toPoint, "value", "low="+low, "high="+high)
}

func TestReferenceTests(t *testing.T) {
	got, want := reference(t, "life-remission", List{}, Limits{})
	members(t, "", got, want, toTest, "log_rank.chi2", "log_rank.df", "log_rank.p", "peto.chi2", "peto.df", "peto.p")
}

// A blade that did not end is censored whatever the list says of why: the
// reference's cause "kept" is no way of ending.
func TestReferenceCauses(t *testing.T) {
	got, want := reference(t, "competing", List{}, Limits{})
	causes := at(t, got, "groups.0.causes").([]any)
	if len(causes) != 3 {
		t.Fatalf("%d causes, want 3", len(causes))
	}
	times := at(t, want, "at").([]any)
	for i, c := range causes {
		name := at(t, c, "cause")
		incidence := element(t, at(t, want, "incidence"), "cause", name)
		for k, when := range times {
			value, stdErr := 0.0, 0.0
			for _, step := range at(t, c, "incidence").([]any) {
				if at(t, step, "area").(float64) <= when.(float64) {
					value, stdErr = at(t, step, "value").(float64), at(t, step, "std_error").(float64)
				}
			}
			p := fmt.Sprintf("%v by %v", name, when)
			hold(t, p, value, at(t, incidence, fmt.Sprintf("value.%d", k)), toPoint)
			// Between the ends of a cause its estimate stands still, but its
			// variance does not: the answer has a step at every end of the cause
			// only, so the error is that of its last step.
			if variance := at(t, incidence, fmt.Sprintf("variance.%d", k)).(float64); variance > 0 && !(math.Abs(stdErr-math.Sqrt(variance)) <= 0.05*stdErr) {
				t.Errorf("%s: standard error %v, want about %v", p, stdErr, math.Sqrt(variance))
			}
		}
		fit := element(t, at(t, want, "cause_weibull"), "cause", name)
		members(t, fmt.Sprint(name, " "), causes[i], fit, toPoint, "ended", "weibull.shape=shape", "weibull.scale=scale", "weibull.loglik=loglik")
	}
}

// element is the one of a list whose member has that value.
func element(t *testing.T, list any, member string, value any) any {
	t.Helper()
	for _, e := range list.([]any) {
		if at(t, e, member) == value {
			return e
		}
	}
	t.Fatalf("nothing has %s %v", member, value)
	return nil
}

func TestReferenceWeights(t *testing.T) {
	got, want := reference(t, "weights", List{}, Limits{})
	hold(t, "reference", at(t, got, "reference"), at(t, want, "reference"), 0)
	for _, w := range at(t, want, "weights").([]any) {
		mine := element(t, at(t, got, "weights"), "class", at(t, w, "class"))
		prefix := fmt.Sprint(at(t, w, "class"), " ")
		members(t, prefix, mine, w, toPoint, "log_weight", "weight")
		members(t, prefix, mine, w, toLimit, "se")
	}
	members(t, "exposure ", at(t, got, "exposure"), want, toPoint, "shape", "scale", "loglik")
	members(t, "exposure ", at(t, got, "exposure"), want, toLimit, "log_shape_se", "log_scale_se")

	// The reference class is a matter of taste: to stainless, mild is what
	// stainless was to mild.
	other, _ := reference(t, "weights", List{Reference: "stainless"}, Limits{})
	mild := element(t, at(t, other, "weights"), "class", "mild")
	stainless := element(t, at(t, want, "weights"), "class", "stainless")
	hold(t, "mild", at(t, mild, "log_weight"), -at(t, stainless, "log_weight").(float64), toPoint)
	hold(t, "exposure loglik", at(t, other, "exposure.loglik"), at(t, want, "loglik"), toPoint)
}

func TestReferenceRegression(t *testing.T) {
	got, want := reference(t, "aft", List{Covariates: []string{"speed"}}, Limits{})
	for mine, theirs := range map[string]string{"intercept": "(Intercept)", "group B": "groupB", "group C": "groupC", "speed": "speed"} {
		c := element(t, at(t, got, "regression.coefficients"), "name", mine)
		hold(t, mine, at(t, c, "value"), at(t, want, "coefficients").(map[string]any)[theirs], toPoint)
		hold(t, mine+" se", at(t, c, "se"), at(t, want, "se").(map[string]any)[theirs], toLimit)
	}
	members(t, "regression ", at(t, got, "regression"), want, toPoint, "sigma", "loglik")
	hold(t, "ln sigma", at(t, got, "regression.log_sigma_se"), at(t, want, "se").(map[string]any)["Log(scale)"], toLimit)
}

// The reference holds the variance of the offsets at 0.1 and the answer
// estimates it, so the offsets agree but for about a standard error;
// analyze/life holds the same model to the digits.
func TestReferenceShrinkage(t *testing.T) {
	got, want := reference(t, "shrinkage", List{}, Limits{})
	for name, effect := range at(t, want, "effects").(map[string]any) {
		g := element(t, at(t, got, "shrunk.groups"), "group", name)
		se := at(t, want, "effect_se").(map[string]any)[name].(float64)
		if o := at(t, g, "offset.value").(float64); math.Abs(o-effect.(float64)) > se {
			t.Errorf("%s: offset %v, want about %v", name, o, effect)
		}
	}
}
