#include "tools/hangtrue/progress.hpp"

#include <string_view>
#include <utility>

#include "tools/hangtrue/colour.hpp"

namespace hangtrue::tools {
namespace {

void write(int descriptor, std::string_view text) {
  (void)!::write(descriptor, text.data(), text.size());  // a terminal that has gone shows nothing
}

}  // namespace

Progress::Progress(std::string what, int descriptor, std::chrono::milliseconds after)
    : descriptor_(descriptor) {
  if (is_terminal(descriptor))
    shows_ = std::thread([this, what = std::move(what), after] { show(what, after); });
}

Progress::~Progress() {
  if (!shows_.joinable()) return;
  {
    const std::lock_guard lock(mutex_);
    over_ = true;
  }
  changed_.notify_one();
  shows_.join();
}

void Progress::show(const std::string& what, std::chrono::milliseconds after) {
  const auto begun = std::chrono::steady_clock::now();
  std::unique_lock lock(mutex_);
  if (changed_.wait_for(lock, after, [this] { return over_; })) return;
  do {
    const auto so_far =
        std::chrono::duration_cast<std::chrono::seconds>(std::chrono::steady_clock::now() - begun);
    write(descriptor_, "\r" + what + " ... " + std::to_string(so_far.count()) + " s");
  } while (!changed_.wait_for(lock, std::chrono::seconds(1), [this] { return over_; }));
  write(descriptor_, "\r\033[K");  // EL of ECMA-48, section 8.3.41: to the end of the line
}

}  // namespace hangtrue::tools
