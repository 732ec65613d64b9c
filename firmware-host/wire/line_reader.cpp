#include "firmware-host/wire/line_reader.hpp"

namespace hangtrue::wire {

void LineReader::finish() {
  counts_.drop(length_ > kLongestLine ? LineDropped::too_long : LineDropped::cut_by_end, length_);
  length_ = 0;
  printable_ = true;
  after_return_ = false;
  first_ = true;
}

std::string_view name(LineDropped reason) {
  switch (reason) {
    case LineDropped::begun_before:
      return "begun before the line was listened to";
    case LineDropped::empty:
      return "line ends without a line";
    case LineDropped::too_long:
      return "longer than 200 characters";
    case LineDropped::not_printable:
      return "not printable";
    case LineDropped::not_understood:
      return "in lines that give no value";
    case LineDropped::cut_by_end:
      return "cut off by the end of the stream";
    case LineDropped::count:
      break;
  }
  return "unknown";
}

}  // namespace hangtrue::wire
