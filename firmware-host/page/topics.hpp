// topics.hpp: the latest text of each topic, and what of it is new to one phone. Calls from any thread.
#pragma once

#include <cstdint>
#include <mutex>
#include <string>
#include <string_view>
#include <vector>

namespace hangtrue::page {

class Topics {
 public:
  /// False: it is what was there already.
  bool set(std::string_view name, std::string json);
  /// A frame of the topics whose versions are not those in `seen`, and of an answer where there is one; empty: there is neither.
  [[nodiscard]] std::string news(std::vector<std::uint64_t>& seen, const std::string& answer) const;

 private:
  struct Topic {
    std::string name, json;
    std::uint64_t version = 0;
  };
  mutable std::mutex mutex_;
  std::vector<Topic> topics_;  // none is ever taken away: `seen` goes by their order
};

}  // namespace hangtrue::page
