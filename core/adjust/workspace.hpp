// workspace.hpp: memory of the shim search. Make one, keep it, use it for one call at a time.
#pragma once

#include "core/adjust/search.hpp"

namespace hangtrue::adjust {

template <class Scalar>
class Workspace {
 public:
  Workspace() = default;
};

}  // namespace hangtrue::adjust
