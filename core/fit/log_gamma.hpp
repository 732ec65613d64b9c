// log_gamma.hpp: the logarithm of the gamma function, without the C library's global variable.
//
// lgamma() leaves the sign in `signgam`. Two threads that call it write that at once; and in newlib's small build the variable lies
// beyond the end of its structure, so that a node overwrites whatever comes next in its memory. lgamma_r() hands the sign out.
// The value is the same to the last bit.
#pragma once

#include <cmath>

#ifdef __NEWLIB__
extern "C" double lgamma_r(double, int*);  // there, but declared only for GNU's dialects
#endif

namespace hangtrue::fit {

/// ln |gamma(x)|.
[[nodiscard]] inline double log_gamma(double x) {
  int sign = 0;
  return ::lgamma_r(x, &sign);
}

}  // namespace hangtrue::fit
