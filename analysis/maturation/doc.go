// Package maturation fits the settling of limb volume to a plateau, limbs
// being random: a nonlinear mixed model.
//
// The volume of limb i at time t after amputation is
//
//	A_i (1 + d_i exp(-r_i t))                    form Share
//	A_i + (S_i - A_i) exp(-r_i t)                form Initial
//
// where A is the plateau, d what is to be lost at amputation as a share of
// the plateau, S the volume at amputation and r the rate, which is estimated
// as its logarithm. Covariates act on the plateau. Limbs differ in the plateau
// and, as asked, in d or S and in log r, by normal random effects that may go
// together; readings scatter about their limb's curve with one standard
// deviation.
//
// The estimates are maximum likelihood on a linearisation about each limb's
// own curve (Lindstrom & Bates 1990, Biometrics 46:673): a penalised
// nonlinear least-squares step for coefficients and limbs alternates with a
// linear mixed model (package mixed) for the variances, until both stand
// still. Errors of coefficients and of limbs are those of the linear mixed
// model reached, fitted by restricted likelihood, by the method of Kenward and
// Roger and, of limbs, with Prasad and Rao's correction (mixed.Foreteller);
// those of whatever is worked out from them follow by the delta method. With form Initial and a common rate the random effects enter
// linearly, and the log-likelihood is that of the model itself.
package maturation
