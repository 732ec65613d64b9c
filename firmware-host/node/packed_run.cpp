#include "firmware-host/node/packed_run.hpp"

#include <bit>
#include <cmath>
#include <type_traits>

#include "firmware-host/node/log.hpp"

namespace hangtrue::node {

namespace {

constexpr std::size_t kHead = 6, kTail = 4;
/// Of settling; what is longer no one waits for.
constexpr float kLongestWindow_s = 600;

/// Puts values behind one another.
class Writer {
 public:
  explicit Writer(std::span<std::uint8_t> out) : out_(out) {}

  template <class Value>
  void value(Value& value) {
    if constexpr (std::is_same_v<Value, float>)
      bytes(std::bit_cast<std::uint32_t>(value), 4);
    else if constexpr (std::is_same_v<Value, bool>)
      bytes(value ? 1 : 0, 1);
    else if constexpr (std::is_enum_v<Value>)
      bytes(std::uint64_t(value), 1);
    else
      bytes(std::uint64_t(value), sizeof value);
  }
  [[nodiscard]] std::size_t used() const { return used_; }
  [[nodiscard]] bool fits() const { return used_ <= out_.size(); }

 private:
  void bytes(std::uint64_t value, std::size_t count) {
    for (std::size_t i = 0; i < count; ++i, ++used_)
      if (used_ < out_.size()) out_[used_] = std::uint8_t(value >> (8 * i));
  }
  std::span<std::uint8_t> out_;
  std::size_t used_ = 0;
};

class Reader {
 public:
  explicit Reader(std::span<const std::uint8_t> in) : in_(in) {}

  template <class Value>
  void value(Value& value) {
    if constexpr (std::is_same_v<Value, float>)
      value = std::bit_cast<float>(std::uint32_t(bytes(4)));
    else if constexpr (std::is_same_v<Value, bool>)
      value = bytes(1) != 0;
    else if constexpr (std::is_enum_v<Value>)
      value = Value(bytes(1));
    else
      value = Value(bytes(sizeof value));
  }
  [[nodiscard]] std::size_t used() const { return used_; }
  [[nodiscard]] bool fits() const { return used_ <= in_.size(); }

 private:
  std::uint64_t bytes(std::size_t count) {
    std::uint64_t value = 0;
    for (std::size_t i = 0; i < count; ++i, ++used_)
      if (used_ < in_.size()) value |= std::uint64_t(in_[used_]) << (8 * i);
    return value;
  }
  std::span<const std::uint8_t> in_;
  std::size_t used_ = 0;
};

template <class Side>
void restraint(Side& side, beam::Restraint<float>& restraint) {
  side.value(restraint.held);
  side.value(restraint.compliance);
  side.value(restraint.pulled_home);
}

template <class Side>
void motions(Side& side, beam::Motions<float>& motions) {
  for (int m = 0; m < beam::kMotionCount; ++m) side.value(motions[m]);
}

/// The list of fields: written and read in this order.
template <class Side>
class Fields {
 public:
  Fields(Side& side, PackedRun& run) : side_(side), run_(run) {}

  Result<Done, PackFault> all() {
    head();
    mechanics();
    known();
    instrument();
    adjustment();
    if (fault_.code == PackFaultCode::limit_exceeded) return fault_;
    return Done{};
  }

 private:
  void text(Name& name) {
    for (char& c : name) side_.value(c);
  }
  /// The count, then each entry; one that is too many ends the reading.
  template <class Entry, int kMost, class Each>
  void list(Listed<Entry, kMost>& list, const char* what, Each&& each) {
    auto count = std::uint8_t(list.count);
    side_.value(count);
    if (count > kMost && fault_.code != PackFaultCode::limit_exceeded)
      fault_ = {PackFaultCode::limit_exceeded, what, count, kMost};
    if (fault_.code == PackFaultCode::limit_exceeded) return;
    list.count = count;
    for (Entry& entry : list.all()) each(entry);
  }

  void head() {
    text(run_.title);
    text(run_.stage_name);
    side_.value(run_.length_m);
    side_.value(run_.width_m);
    side_.value(run_.shear_centre_m);
    side_.value(run_.stage);
    side_.value(run_.finished_stage);
    side_.value(run_.bows);
    if (run_.bows > node_limits::kBows)
      fault_ = {PackFaultCode::limit_exceeded, "bows", run_.bows, node_limits::kBows};
    side_.value(run_.tolerance_m);
    side_.value(run_.has_target);
    side_.value(run_.target_m);
  }
  void mechanics() {
    list(run_.pieces, "stretches of constant section", [this](beam::Piece<float>& piece) {
      side_.value(piece.to_m);
      side_.value(piece.bending_N_m2);
      side_.value(piece.torsion_N_m2);
      side_.value(piece.shear_N);
      side_.value(piece.warping_N_m4);
    });
    list(run_.load_parts, "parts of loads", [this](beam::LoadPart<float>& part) {
      auto load = std::uint8_t(part.load);
      side_.value(load);
      part.load = load;
      side_.value(part.kind);
      side_.value(part.from_m);
      side_.value(part.to_m);
      side_.value(part.begin);
      side_.value(part.end);
      side_.value(part.across_m);
    });
    list(run_.supports, "supports", [this](beam::Support<float>& support) {
      side_.value(support.at_m);
      restraint(side_, support.rise);
      restraint(side_, support.pitch);
      restraint(side_, support.roll);
      side_.value(support.holds);
      side_.value(support.across_m);
      side_.value(support.holds_warping);
    });
    list(run_.stages, "stages", [this](beam::Stage& stage) {
      side_.value(stage.supports);
      side_.value(stage.loads);
    });
    list(run_.stations_m, "stations", [this](float& station) { side_.value(station); });
  }
  void known() {
    list(run_.unknowns, "unknowns", [this](PackedUnknown& unknown) {
      side_.value(unknown.what.kind);
      side_.value(unknown.what.shape.kind);
      side_.value(unknown.what.shape.index);
      side_.value(unknown.what.index);
      side_.value(unknown.prior.mean);
      side_.value(unknown.prior.sigma);
    });
    for (PackedState& state : run_.state) {
      motions(side_, state.offset);
      motions(side_, state.log_spring);
      motions(side_, state.give);
    }
    side_.value(run_.bending_factor);
    side_.value(run_.torsion_factor);
    list(run_.load_factor, "loads", [this](float& factor) { side_.value(factor); });
    list(run_.zero, "channels", [this](float& zero) { side_.value(zero); });
  }
  void instrument() {
    side_.value(run_.base_m);
    side_.value(run_.slope_sigma);
    side_.value(run_.roll_sigma_rad);
    side_.value(run_.slope_spread);
    side_.value(run_.roll_spread_rad);
    side_.value(run_.slope_window_s);
    side_.value(run_.roll_window_s);
    side_.value(run_.slope_sign);
    side_.value(run_.roll_sign);
    side_.value(run_.slope_zero);
    side_.value(run_.roll_zero);
  }
  void adjustment() {
    for (PackedAdjust& adjust : run_.adjust) {
      text(adjust.name);
      side_.value(adjust.by);
      side_.value(adjust.pitch);
      side_.value(adjust.roll);
      side_.value(adjust.rise_from_m);
      side_.value(adjust.rise_to_m);
      side_.value(adjust.along_m);
      side_.value(adjust.across_m);
      side_.value(adjust.step_m);
      side_.value(adjust.step_turns);
      side_.value(adjust.rating_N);
    }
    list(run_.stock, "thicknesses of shims", [this](PackedPiece& piece) {
      side_.value(piece.thickness_m);
      side_.value(piece.count);
    });
    side_.value(run_.most_in_stack);
    side_.value(run_.highest_stack_m);
  }

  Side& side_;
  PackedRun& run_;
  PackFault fault_{PackFaultCode::not_packed_run};
};

std::uint32_t word(std::span<const std::uint8_t> bytes) {
  return bytes[0] | std::uint32_t(bytes[1]) << 8 | std::uint32_t(bytes[2]) << 16 |
         std::uint32_t(bytes[3]) << 24;
}

PackFault not_usable(const char* what, int found) { return {PackFaultCode::value_not_usable, what, found}; }

/// What the solver and the fit do not look at themselves: indices, and enumerators that are none.
Result<Done, PackFault> check(const PackedRun& run) {
  if (run.stage >= run.stages.count || run.finished_stage >= run.stages.count ||
      run.finished_stage < run.stage)
    return not_usable("stage", run.stage);
  for (const beam::LoadPart<float>& part : run.load_parts.all())
    if (part.load >= run.load_factor.count || part.kind > beam::LoadKind::warmth)
      return not_usable("load", part.load);
  for (const beam::Support<float>& support : run.supports.all())
    if (support.holds > beam::Holds::pull) return not_usable("holds", int(support.holds));
  const int indices[] = {run.supports.count, run.load_factor.count, run.bows};
  for (const PackedUnknown& unknown : run.unknowns.all()) {
    const beam::ParameterKind kind = unknown.what.shape.kind;
    if (unknown.what.kind == fit::UnknownKind::shape) {
      const int most = kind == beam::ParameterKind::load  ? indices[1]
                       : kind == beam::ParameterKind::bow ? indices[2]
                       : kind == beam::ParameterKind::bending || kind == beam::ParameterKind::torsion
                           ? 1
                           : indices[0];
      if (kind > beam::ParameterKind::give_roll || unknown.what.shape.index < 0 ||
          unknown.what.shape.index >= most)
        return not_usable("unknown", unknown.what.shape.index);
    } else if (unknown.what.kind == fit::UnknownKind::zero) {
      if (unknown.what.index < 0 || unknown.what.index >= run.zero.count)
        return not_usable("zero error", unknown.what.index);
    } else if (unknown.what.kind != fit::UnknownKind::datum_height &&
               unknown.what.kind != fit::UnknownKind::datum_tilt) {
      return not_usable("unknown", int(unknown.what.kind));
    } else if (unknown.what.index != 0) {
      return not_usable("set-up", unknown.what.index);
    }
  }
  if (run.slope_zero >= run.zero.count || run.roll_zero >= run.zero.count)
    return not_usable("zero error", run.slope_zero);
  for (const PackedAdjust& adjust : run.adjust)
    if (adjust.by > 3) return not_usable("adjust", adjust.by);
  if (!(run.slope_sigma > 0) || !(run.roll_sigma_rad > 0) || !(run.slope_spread > 0) ||
      !(run.roll_spread_rad > 0))
    return not_usable("sigma or spread of the axes", 0);
  if (!(run.slope_window_s > 0 && run.slope_window_s < kLongestWindow_s) ||
      !(run.roll_window_s > 0 && run.roll_window_s < kLongestWindow_s))
    return not_usable("window of the axes", 0);
  for (const std::int8_t sign : {run.slope_sign, run.roll_sign})
    if (sign != 1 && sign != -1) return not_usable("sign of the axes", sign);
  return Done{};
}

}  // namespace

Result<std::size_t, PackFault> pack(PackedRun& run, std::span<std::uint8_t> out) {
  if (out.size() < kHead + kTail)
    return PackFault{PackFaultCode::limit_exceeded, "bytes", 0, int(out.size())};
  Writer writer(out.subspan(kHead, out.size() - kHead - kTail));
  if (const auto written = Fields<Writer>(writer, run).all(); !written) return written.fault();
  const std::size_t end = kHead + writer.used();
  if (!writer.fits())
    return PackFault{PackFaultCode::limit_exceeded, "bytes", int(end + kTail), int(out.size())};
  const std::uint8_t head[kHead] = {
      'H', 'T', 'R', kPackedVersion, std::uint8_t(writer.used()), std::uint8_t(writer.used() >> 8)};
  for (std::size_t i = 0; i < kHead; ++i) out[i] = head[i];
  const std::uint32_t crc = crc32(std::span<const std::uint8_t>(out).first(end));
  for (std::size_t i = 0; i < kTail; ++i) out[end + i] = std::uint8_t(crc >> (8 * i));
  return end + kTail;
}

Result<Done, PackFault> unpack(std::span<const std::uint8_t> bytes, PackedRun& run) {
  if (bytes.size() < kHead + kTail || bytes[0] != 'H' || bytes[1] != 'T' || bytes[2] != 'R')
    return PackFault{PackFaultCode::not_packed_run, "beginning", int(bytes.size())};
  if (bytes[3] != kPackedVersion)
    return PackFault{PackFaultCode::other_version, "version", bytes[3], kPackedVersion};
  const std::size_t length = bytes[4] | std::size_t(bytes[5]) << 8;
  if (bytes.size() != kHead + length + kTail)
    return PackFault{PackFaultCode::not_packed_run, "length", int(bytes.size()), int(kHead + length + kTail)};
  if (crc32(bytes.first(kHead + length)) != word(bytes.subspan(kHead + length)))
    return PackFault{PackFaultCode::wrong_crc, "CRC"};
  run = {};
  Reader reader(bytes.subspan(kHead, length));
  if (const auto read = Fields<Reader>(reader, run).all(); !read) return read.fault();
  if (!reader.fits() || reader.used() != length)
    return PackFault{PackFaultCode::not_packed_run, "fields", int(reader.used()), int(length)};
  return check(run);
}

}  // namespace hangtrue::node
