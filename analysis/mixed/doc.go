// Package mixed fits linear models in which the rows of one group (a limb, a
// person) share random effects: an intercept of their own, and slopes of
// their own on chosen columns.
//
// The criterion is the profiled deviance or the restricted one in the
// relative covariance factor (Bates, Mächler, Bolker & Walker 2015, J Stat
// Softw 67(1)); it is reduced once to a few sums per group, so that an
// evaluation costs the number of groups times the cube of the number of
// random effects, whatever the number of rows. First and second derivatives
// are exact, so that a search takes few evaluations, and most of those on a
// part of the groups where they are thousands. Degrees of freedom are
// Satterthwaite's (Giesbrecht & Burns 1985, Biometrics 41:477; for several
// coefficients Fai & Cornelius 1996, J Stat Comput Simul 54:363), or by the
// method of Kenward & Roger 1997, Biometrics 53:983, which adjusts the
// covariance of the fixed effects as well. Explained
// variance follows Nakagawa & Schielzeth 2013, Methods Ecol Evol 4:133, and
// Johnson 2014, Methods Ecol Evol 5:944 where slopes are random.
package mixed
