// overloaded.hpp: a visitor of a variant by one function for each of its kinds; a kind without one does not compile.
#pragma once

namespace hangtrue::daemon {

template <class... Functions>
struct Overloaded : Functions... {
  using Functions::operator()...;
};
template <class... Functions>
Overloaded(Functions...) -> Overloaded<Functions...>;

}  // namespace hangtrue::daemon
