// Package survival holds the methods for times to an event: survival curves,
// restricted means, the log-rank family, cumulative incidence, curves of events
// seen only at visits, mean counts of repeated events, Cox's proportional
// hazards regression and parametric regression of censored times. It works on
// plain slices, opens no file and rounds nothing.
//
// Conventions, the same in every method:
//
//   - A row is at risk over (entry, time]. A row with entry 0 did not enter
//     late and is at risk from the very start, so that it also counts for an
//     event at time 0.
//   - A row censored at the time of an event counts as at risk for it.
//   - A row of weight 2 stands for two equal rows.
//   - Rows that share a cluster (a person) are not independent; standard
//     errors then come from the infinitesimal jackknife grouped by cluster.
//   - Times are compared exactly; give days as whole numbers.
package survival
