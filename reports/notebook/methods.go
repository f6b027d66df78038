package notebook

import (
	"slices"
	"sort"
)

// common are the keys that every ask takes.
var common = []string{"id", "question", "method", "rows", "keep", "note"}

// accepted are the further keys of each method, in the order of the manual.
// A key stands here only where the method makes use of it.
var accepted = map[string][]string{
	"limb-volume": {"limb", "sides", "axes", "cap", "confidence"},
	"sock-volume": {"limb", "confidence"},
	"rhythm":      {"adjust", "factors", "reference", "outcome", "time", "scale", "cycle", "waves", "within", "freedom", "confidence"},

	"kaplan-meier": {"by", "strata", "cluster", "start", "end", "entry", "landmark", "event", "seen_as_exact",
		"times", "until", "quantiles", "confidence", "bounds", "weights", "tests", "trend", "hazard"},
	"cox": {"by", "adjust", "factors", "reference", "interact", "spline", "split", "contrasts", "adjust_p", "adjusted", "diagnostics", "strata", "cluster", "start", "end", "entry", "landmark",
		"event", "seen_as_exact", "varying", "repeats", "weights", "offset", "times", "confidence", "ties", "penalty", "penalty_size", "frailty", "shared_by", "profiles",
		"missing", "imputations", "seed"},
	"turnbull":          {"by", "cluster", "start", "entry", "event", "times", "quantiles", "confidence", "seed"},
	"weibull":           parametricKeys,
	"generalised-gamma": parametricKeys,
	"exponential":       parametricKeys,
	"log-normal":        parametricKeys,
	"log-logistic":      parametricKeys,
	"cumulative-incidence": {"by", "cluster", "start", "end", "entry", "landmark", "event", "competing",
		"times", "until", "confidence", "bounds"},
	"fine-gray": {"by", "adjust", "factors", "reference", "interact", "spline", "contrasts", "adjust_p", "cluster", "start", "end", "entry", "landmark",
		"event", "competing", "times", "confidence", "ties", "profiles"},
	"mean-cumulative": {"by", "cluster", "event", "competing", "times", "confidence"},
	"linear": {"by", "adjust", "factors", "reference", "interact", "spline", "contrasts", "adjust_p", "adjusted", "diagnostics", "cluster", "errors", "dated", "outcome", "confidence", "profiles",
		"missing", "imputations", "seed"},
	"logistic": {"by", "adjust", "factors", "reference", "interact", "spline", "contrasts", "adjust_p", "adjusted", "diagnostics", "cluster", "outcome",
		"weights", "offset", "confidence", "intervals", "penalty", "correlation", "profiles"},
	"ordinal": {"by", "adjust", "factors", "reference", "interact", "spline", "contrasts", "adjust_p", "adjusted", "cluster", "outcome", "order", "unequal",
		"weights", "confidence", "profiles"},
	"poisson":           append(slices.Clone(countKeys), "penalty", "correlation"),
	"negative-binomial": countKeys,
	"mixed": {"by", "adjust", "factors", "reference", "interact", "spline", "contrasts", "adjust_p", "outcome", "time", "within", "slopes", "nested_in", "nested_slopes", "crossed", "random_effects", "correlation", "scatter_by", "test_random", "freedom", "estimate", "scale",
		"confidence", "profiles", "limb", "times", "taken_by"},
	"mixed-logistic": append(slices.Clone(withinKeys), "offset"),
	"mixed-poisson":  append(slices.Clone(withinKeys), "exposure", "event"),
	"mixed-ordinal":  append(slices.Clone(withinKeys), "order"),
	"maturation":     {"by", "adjust", "factors", "reference", "outcome", "time", "within", "vary", "initial", "left", "settled", "limb", "times", "confidence"},
	"control-chart": {"outcome", "period", "dated", "chart", "numerator", "denominator", "exposure", "between", "overdispersed",
		"baseline_points", "late_entry", "goal", "better"},
	"funnel": {"by", "numerator", "denominator", "exposure", "strata", "adjust", "factors", "reference", "spline", "overdispersed", "better"},
	"cumulative-sum": {"numerator", "denominator", "dated", "expected", "strata", "adjust", "factors", "reference", "spline", "baseline_points",
		"odds_ratio", "false_alarm", "late_entry", "better", "seed"},
	"segmented": {"outcome", "numerator", "denominator", "exposure", "period", "dated", "change", "transition", "seasonal", "errors",
		"times", "late_entry", "better", "confidence"},
	"pareto":       {"by", "event", "weights", "separator", "pool_below", "change", "dated", "confidence"},
	"summary":      {"by", "columns"},
	"caseload":     {"by", "columns", "period", "dated"},
	"turnaround":   {"steps", "by", "period", "confidence"},
	"forming-log":  {"ranges", "good", "confidence"},
	"findings-map": {"change", "confidence"},
	"reduction":    {"by", "region", "confidence"},
	"sample-size": {"plan", "ratios", "power", "sockets", "share", "explained", "within_person", "lost", "accrual", "until", "by",
		"event", "competing", "start", "end", "entry", "confidence"},
	"watch": {"adjust", "varying", "factors", "reference", "spline", "ahead", "every", "event", "competing", "start", "entry",
		"resamples", "seed", "listed", "confidence"},
	"completeness": {"columns", "period", "dated", "goal"},
	"forecast":     {"by", "period", "dated", "ahead", "course", "seasonal", "late_entry", "confidence", "seed"},
	"follow-up":    {"by", "start", "end", "entry", "landmark", "event", "confidence"},
	"flow":         {"start", "end", "entry", "landmark", "event", "seen_as_exact"},
	"agreement":    {"outcome", "ways", "same", "percent", "weighting", "order", "cluster", "confidence", "seed"},
}

// parametricKeys are those of the methods that fit a curve of few numbers.
var parametricKeys = []string{"by", "adjust", "factors", "reference", "interact", "spline", "contrasts", "adjust_p", "cluster", "start", "end", "entry", "landmark",
	"event", "times", "quantiles", "confidence", "profiles", "compare"}

// ParametricMethods are those that fit a curve of few numbers.
func ParametricMethods() []string {
	return []string{"weibull", "exponential", "log-normal", "log-logistic", "generalised-gamma"}
}

// countKeys are those of the methods that explain counts.
var countKeys = []string{"by", "adjust", "factors", "reference", "interact", "spline", "contrasts", "adjust_p", "adjusted", "diagnostics", "cluster", "outcome", "exposure", "event",
	"weights", "confidence", "intervals", "profiles"}

// withinKeys are those of the methods in which limbs have a level of their own.
var withinKeys = []string{"by", "adjust", "factors", "reference", "interact", "spline", "contrasts", "adjust_p", "outcome", "time", "scale", "within",
	"confidence", "profiles"}

// WithinMethods are the methods other than mixed in which limbs have a level of
// their own.
func WithinMethods() []string { return []string{"mixed-logistic", "mixed-poisson", "mixed-ordinal"} }

// needed are the keys without which a method has no question to answer.
var needed = map[string][]string{
	"turnbull":          {"event"},
	"linear":            {"rows", "outcome"},
	"logistic":          {"rows", "outcome"},
	"ordinal":           {"rows", "outcome"},
	"poisson":           {"rows"},
	"negative-binomial": {"rows"},
	"mixed":             {"rows", "outcome"},
	"rhythm":            {"outcome", "cycle"},
	"mixed-logistic":    {"rows", "outcome"},
	"mixed-poisson":     {"rows"},
	"mixed-ordinal":     {"rows", "outcome"},
	"control-chart":     {"rows"},
	"segmented":         {"rows"},
	"cumulative-sum":    {"rows", "numerator"},
	"completeness":      {"rows", "columns"},
	"forecast":          {"rows"},
	"funnel":            {"rows", "by", "numerator"},
	"pareto":            {"rows", "by"},
	"summary":           {"columns"},
	"sample-size":       {"ratios", "until"},
	"watch":             {"ahead"},
	"agreement":         {"outcome", "ways"},
}

// Tables returns the names that `rows` can have.
func Tables() []string {
	return []string{"persons", "limbs", "sockets", "visits", "findings", "stations", "forming"}
}

// Methods returns the names of the methods, sorted.
func Methods() []string {
	out := make([]string, 0, len(accepted))
	for m := range accepted {
		out = append(out, m)
	}
	sort.Strings(out)
	return out
}

// AcceptedKeys returns the keys that a method takes, those common to all
// first; nil for an unknown method.
func AcceptedKeys(method string) []string {
	keys, ok := accepted[method]
	if !ok {
		return nil
	}
	return append(append([]string(nil), common...), keys...)
}

// takes says whether a method takes a key.
func takes(method, key string) bool {
	for _, k := range AcceptedKeys(method) {
		if k == key {
			return true
		}
	}
	return false
}

// takers are the methods that take a key, sorted.
func takers(key string) []string {
	var out []string
	for _, m := range Methods() {
		if takes(m, key) {
			out = append(out, m)
		}
	}
	return out
}

// allKeys are the keys that any method takes, sorted.
func allKeys() []string {
	seen := map[string]bool{}
	var out []string
	for _, m := range Methods() {
		for _, k := range AcceptedKeys(m) {
			if !seen[k] {
				seen[k] = true
				out = append(out, k)
			}
		}
	}
	sort.Strings(out)
	return out
}

// onLives says whether a method is about sockets' lives: a start, an event,
// rows that are sockets unless said otherwise.
func onLives(method string) bool { return takes(method, "start") }
