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
// A Cox regression of rows without late entry is made to go through them few
// times, on two cores. What follows says how; the numbers are the same as those
// of the plain sweep over risk sets, which the tests compare.
//
//   - Patterns. Rows alike in every column share one, so that exp of the linear
//     predictor and products of columns are made once for each pattern and not
//     for each row; means and scales of columns come from patterns too. They
//     are found by a number with a digit for each column's value, or, where
//     these have too many combinations, in a table by the values themselves.
//     Where few rows are alike each row is its own pattern.
//   - Order. Rows are put once into bins: by stratum, latest time first, those
//     with the event first in each. Whole days are counted into their places,
//     other times sorted digit by digit.
//   - Running sums. At every step of Newton's method each bin sums the risk of
//     its rows, and the risk times each column; from the latest time to the
//     first these add up to the sums over the rows at risk. Efron's terms of
//     tied events need no more than these sums and those over the dead.
//   - Products. The sums of products of two columns are not carried along. A
//     row that ends at t enters the information with its risk times the hazard
//     up to t; these weights are added up for each pattern, and the products
//     are made once, at the end.
//   - Clusters are numbered and their rows counted into place. Robust errors go
//     through them cluster by cluster, keep the score of one at a time, and make
//     it at the estimate and at 0 (for the score test) in one pass.
//   - Concordance ranks patterns, not rows, and goes through the bins twice, the
//     two ways at the same time, with sums by rank in a binary indexed tree.
//   - The second core. All work is cut into two fixed halves, of rows, bins,
//     patterns or clusters, and what they make is joined in one order, so that
//     the numbers do not depend on how many cores there are.
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
