// cases.hpp: a visitor of a variant made of one function a case: a case that is forgotten does not compile.
#pragma once

namespace hangtrue::say {

template <class... Functions>
struct Cases : Functions... {
  using Functions::operator()...;
};

}  // namespace hangtrue::say
