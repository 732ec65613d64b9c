#include "firmware-host/page/topics.hpp"

#include <algorithm>

namespace hangtrue::page {

bool Topics::set(std::string_view name, std::string json) {
  const std::scoped_lock lock(mutex_);
  auto found =
      std::find_if(topics_.begin(), topics_.end(), [&](const Topic& one) { return one.name == name; });
  if (found == topics_.end()) found = topics_.insert(found, Topic{std::string(name), {}, 0});
  if (found->version > 0 && found->json == json) return false;
  found->json = std::move(json);
  ++found->version;
  return true;
}

std::string Topics::news(std::vector<std::uint64_t>& seen, const std::string& answer) const {
  const std::scoped_lock lock(mutex_);
  seen.resize(topics_.size());
  std::string frame;
  const auto add = [&frame](const std::string& name, const std::string& json) {
    frame += (frame.empty() ? "{\"" : ",\"") + name + "\":" + json;
  };
  for (std::size_t i = 0; i < topics_.size(); ++i) {
    const Topic& topic = topics_[i];
    if (topic.version == seen[i]) continue;
    seen[i] = topic.version;
    add(topic.name, topic.json);
  }
  if (!answer.empty()) add("answer", answer);
  return frame.empty() ? frame : frame + '}';
}

}  // namespace hangtrue::page
