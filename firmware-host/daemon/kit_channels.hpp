// kit_channels.hpp: from the kit sheet to what wire/ reads: each channel as a plain description, and the storage that the
// maps of wire/ work in.
//
// Lifetime  the descriptions view the kit sheet's texts; it must outlive what is made here.
#pragma once

#include <cstddef>
#include <cstdint>
#include <map>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "firmware-host/sheet/complaint.hpp"
#include "firmware-host/sheet/kit_sheet.hpp"
#include "firmware-host/wire/channels.hpp"

namespace hangtrue::daemon {

/// `number`: of the instrument, as it is to come back in samples.
[[nodiscard]] wire::ChannelSpec spec_of(const sheet::KitInstrument& instrument, std::size_t channel,
                                        std::size_t number);

/// What only the wire knows of a kit sheet: a pattern that is none, a value of two registers whose second does not exist.
[[nodiscard]] std::vector<sheet::Complaint> complaints_of_speech(const sheet::KitInstrument& instrument,
                                                                 const std::string& file);

/// The quads of the instruments on one line. Samples carry the place of their instrument in `instruments`; none may be null.
class KitQuads {
 public:
  KitQuads(std::span<const sheet::KitInstrument* const> instruments, std::size_t stations);
  KitQuads(const sheet::KitInstrument& instrument, std::size_t stations);
  KitQuads(KitQuads&&) = default;  // a copy would work in the storage of the first

  template <class OnSample>
  void read(std::string_view talker, std::span<const wire::XdrQuad> quads, OnSample&& on_sample) {
    map_.read(talker, quads, on_sample, [this](const wire::XdrQuad& quad, std::string_view other_talker) {
      count_unknown(quad, other_talker);
    });
  }
  void forget() { map_.forget(); }

  [[nodiscard]] const wire::ChannelMap& map() const { return map_; }
  /// Quads that no channel claims, by "NAME (type)", or "NAME (type) from TT" where only the talker differs.
  /// Beyond 64 names the rest goes under "others".
  [[nodiscard]] const std::map<std::string, std::uint64_t>& unknown() const { return unknown_; }
  /// Why a channel of this instrument gives nothing though its quads come; empty: none such.
  [[nodiscard]] std::string mixed(std::size_t instrument) const;

 private:
  void count_unknown(const wire::XdrQuad& quad, std::string_view other_talker);

  std::vector<wire::QuadChannel> channels_;
  wire::ChannelMap map_;
  std::map<std::string, std::uint64_t> unknown_;
};

/// The registers of one unit. Samples carry instrument 0.
class KitRegisters {
 public:
  KitRegisters(const sheet::KitInstrument& instrument, std::size_t stations);
  KitRegisters(KitRegisters&&) = default;  // a copy would work in the storage of the first
  [[nodiscard]] wire::RegisterMap& map() { return map_; }
  [[nodiscard]] const wire::RegisterMap& map() const { return map_; }

 private:
  std::vector<wire::RegisterChannel> channels_;
  std::vector<wire::ReadRequest> room_;
  wire::RegisterMap map_;
};

/// The lines of one device. Samples carry instrument 0. A channel whose pattern is none gives nothing.
class KitLines {
 public:
  KitLines(const sheet::KitInstrument& instrument, std::size_t stations);
  KitLines(KitLines&&) = default;  // a copy would work in the storage of the first
  [[nodiscard]] wire::LineMap& map() { return map_; }
  [[nodiscard]] const wire::LineMap& map() const { return map_; }

 private:
  std::vector<wire::LineChannel> channels_;
  wire::LineMap map_;
};

}  // namespace hangtrue::daemon
