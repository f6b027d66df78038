// Package quadrature fits models of yes or no, of counts and of ordered levels
// in which the rows of one group, such as a limb, share a level of their own:
// a random intercept that follows a normal distribution. The likelihood of a
// group is an integral over that level, which has no closed form and is worked
// out by adaptive Gauss-Hermite quadrature.
//
// Of group i with rows j the linear predictor is x'b + s u, u standard normal.
// The integrand over u is centred at its mode and scaled by its curvature
// there before the nodes are laid (Naylor & Smith 1982, Appl Stat 31:214; Liu &
// Pierce 1994, Biometrika 81:624; Pinheiro & Bates 1995, J Comput Graph Stat
// 4:12). The gradient is the exact one of the sum, with the movement of modes
// and curvatures; the information is that of the integral (Louis 1982, J R Stat
// Soc B 44:226), by the same nodes.
//
// Numbers do not depend on the order of rows beyond rounding, nor at all on
// the number of processors.
package quadrature
