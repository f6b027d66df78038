// Package regress fits models of numbers (linear), of yes or no (logistic) and
// of counts (Poisson, negative binomial), with errors that hold up when scatter
// differs between rows (heteroscedasticity) or when rows of one person or limb
// resemble each other (clusters).
//
// Methods and their sources: HC0 White 1980, Econometrica 48:817; HC1 to HC3
// MacKinnon & White 1985, J Econometrics 29:305; CR0 Liang & Zeger 1986,
// Biometrika 73:13; CR2 and its degrees of freedom Bell & McCaffrey 2002,
// Survey Methodology 28:169; tests of several coefficients with CR2
// Pustejovsky & Tipton 2018, J Bus Econ Stat 36:672.
package regress
