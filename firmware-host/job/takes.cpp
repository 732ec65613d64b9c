#include "firmware-host/job/takes.hpp"

#include <algorithm>
#include <cmath>
#include <optional>

#include "firmware-host/job/thresholds.hpp"

namespace hangtrue::job {
namespace {

using Readings = std::span<const book::BookedReading>;
using Take = std::vector<std::size_t>;

/// The face of its inclinometers; none: it has none, or they stand different ways round.
std::optional<int> face_of(Readings booked, const Take& take) {
  std::optional<int> face;
  for (const std::size_t i : take) {
    const sheet::ReadingEntry& reading = booked[i].reading;
    if (reading.channel == Channel::distance) continue;
    if (face && *face != reading.face) return std::nullopt;
    face = reading.face;
  }
  return face;
}

bool one_place(const sheet::ReadingEntry& a, const sheet::ReadingEntry& b) {
  if (std::abs(a.at_m - b.at_m) > kSamePlace_m || a.mark != b.mark) return false;
  const bool one_channel = a.instrument == b.instrument && a.channel == b.channel;
  return !one_channel || (a.edge == b.edge && a.set_up == b.set_up);
}

bool goes_on(Readings booked, const Take& former, const Take& next) {
  const auto before = face_of(booked, former), now = face_of(booked, next);
  if (!before || !now || *before == *now) return false;
  for (const std::size_t i : former)
    for (const std::size_t k : next)
      if (!one_place(booked[i].reading, booked[k].reading)) return false;
  return true;
}

}  // namespace

std::vector<Take> takes_of(Readings booked) {
  std::vector<Take> appends, takes;
  for (std::size_t i = 0; i < booked.size(); ++i) {
    if (i == 0 || booked[i].number != booked[i - 1].number + 1) appends.emplace_back();
    appends.back().push_back(i);
  }
  for (const Take& each : appends) {
    if (!takes.empty() && goes_on(booked, takes.back(), each))
      takes.back().insert(takes.back().end(), each.begin(), each.end());
    else
      takes.push_back(each);
  }
  return takes;
}

}  // namespace hangtrue::job
