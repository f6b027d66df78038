// Package forecast foretells counts of coming months or quarters from those of
// past ones: how many casts, check sockets and definitive sockets a lab should
// be ready for.
//
// The model is the exact one of Harvey AC and Fernandes C, Journal of Business
// and Economic Statistics 1989; 7: 407-417: counts are Poisson about a level
// that drifts, the level has a gamma distribution, and each period that goes by
// discounts what was known by a factor omega. A yearly season and a steady
// course enter as multipliers of the level. What comes next is then negative
// binomial, period by period, and the joint distribution of several periods
// follows by drawing them one after another.
package forecast
