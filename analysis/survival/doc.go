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
//
// # Many rows
//
// Cox's regression sorts its rows once (whole days are counted into their
// places) and then goes through them in that order at every step of Newton's
// method. Rows without late entry are fitted by patterns:
//
//   - Rows alike in every column share one pattern, so that exp of the linear
//     predictor and products of columns are made once for each pattern and not
//     for each row. Where columns have too many values to be worth it, each
//     row is its own pattern.
//   - From the right, the latest time, to the left the sums of the risk, and of
//     the risk times each column, grow row by row; at each time with events
//     they are those over the rows at risk.
//   - The sums of products of two columns are not carried along. A row that
//     ends at t enters the information with its risk times the hazard up to t;
//     these weights are added up for each pattern, and the products are made
//     once, at the end.
//   - Robust errors go through the rows cluster by cluster, and keep the score
//     of one cluster at a time.
//   - The work is cut into two fixed halves, the second for another core; the
//     halves are joined in one order, so that the numbers do not depend on how
//     many cores there are.
//
// Rows that enter late (and so everything cut at changes of a covariate) keep
// the sums of products too, row by row, and make them afresh where taking rows
// away would cost digits. The time of both grows with the rows, not with their
// square, sorting apart.
//
// A frailty shared by groups makes a coefficient of each group. The
// information of so many is never written down for a step: it is multiplied
// with vectors by two passes over rows and times, and solved by conjugate
// gradients, with the information that takes the groups' own block as diagonal
// as preconditioner. Only the log-normal likelihood and the errors of single
// frailties need the whole block, which limits them to MaxFrailtyGroups
// groups. Late rows are summed through a binary tree over the times, so that
// nothing is ever taken away from a sum.
package survival
