// hangtrue pack: what a node gets of the sheets is what the host's own fit goes by; what it cannot hold is refused by name.
#include <gtest/gtest.h>

#include <fstream>
#include <iterator>
#include <string>
#include <vector>

#include "firmware-host/node/packed_run.hpp"
#include "tests/tools/command.hpp"

namespace hangtrue::tools {
namespace {

std::string data(const std::string& name) { return std::string(HANGTRUE_DATA_DIR "/") + name; }

class Pack : public ::testing::Test {
 protected:
  Ended pack(const std::string& run, const std::string& kit, const std::string& more = "") {
    return command("pack '" + run + "' '" + kit + "' -o '" + (scratch_ / "run.htr") + "' " + more);
  }
  /// A demo sheet with `from` as `to`, everywhere.
  std::string changed(const std::string& name, const std::string& from, const std::string& to) {
    std::string text = book::bytes_of(data(name));
    EXPECT_NE(text.find(from), std::string::npos) << from;
    for (std::size_t at = 0; (at = text.find(from, at)) != std::string::npos; at += to.size())
      text.replace(at, from.size(), to);
    const std::string path = scratch_ / "changed.toml";
    std::ofstream(path) << text;
    return path;
  }
  node::PackedRun read() {
    const std::string bytes = book::bytes_of(scratch_ / "run.htr");
    node::PackedRun run;
    EXPECT_TRUE(node::unpack({reinterpret_cast<const std::uint8_t*>(bytes.data()), bytes.size()}, run).ok());
    return run;
  }
  const std::string shelf_ = data("runs/gallery-display-shelf.toml"),
                    dial_ = data("kits/xdr-inclinometer.toml");
  book::Scratch scratch_;
};

TEST_F(Pack, HoldsWhatTheSheetsSay) {
  const Ended ended = pack(shelf_, dial_);
  ASSERT_EQ(ended.code, 0) << ended.errors;
  EXPECT_NE(ended.output.find("read at stage \"bolted\""), std::string::npos) << ended.output;
  const node::PackedRun run = read();
  EXPECT_EQ(std::string(run.title.data()), "Gallery display shelf");
  EXPECT_EQ(run.supports.count, 4);
  EXPECT_EQ(run.stage, 1);
  EXPECT_EQ(run.finished_stage, 3);
  EXPECT_EQ(run.stations_m.count, 13);
  EXPECT_FLOAT_EQ(run.length_m, 3.6F);
  EXPECT_FLOAT_EQ(run.tolerance_m, 2e-3F);
  EXPECT_FLOAT_EQ(run.base_m, 0.3F);
  EXPECT_EQ(run.slope_sign, -1);
  EXPECT_EQ(run.roll_sign, 1);
  EXPECT_FLOAT_EQ(run.supports.entry[0].rise.compliance, 1 / 25e6F);
  EXPECT_EQ(run.supports.entry[1].holds, beam::Holds::pull);
  EXPECT_EQ(run.adjust[0].by, 1);
  EXPECT_FLOAT_EQ(run.adjust[1].step_m, 1.75e-3F / 4);  // M12: 1.75 mm a turn (ISO 261, from memory)
  EXPECT_EQ(run.adjust[2].by, 3);
  EXPECT_EQ(run.stock.count, 4);
  // The shelf's own factor on bending has the sheet's sigma; both zero errors are the kit's.
  int bending = 0, zeros = 0;
  for (const node::PackedUnknown& each : run.unknowns.all()) {
    if (each.what.kind == fit::UnknownKind::shape && each.what.shape.kind == beam::ParameterKind::bending) {
      ++bending;
      EXPECT_FLOAT_EQ(each.prior.mean, 1);
      EXPECT_FLOAT_EQ(each.prior.sigma, 0.04F);
    }
    if (each.what.kind != fit::UnknownKind::zero) continue;
    ++zeros;
    EXPECT_FLOAT_EQ(each.prior.sigma, 0.3e-3F);
  }
  EXPECT_EQ(bending, 1);
  EXPECT_EQ(zeros, 2);
}

// Two rails that bend against one another, and a bracket that keeps the section from warping: E Iw of both about the middle between
// them is EI (0.2 m)^2 (V. Z. Vlasov, Thin-walled Elastic Beams; from memory).
TEST_F(Pack, CarriesWarping) {
  std::string text = book::bytes_of(shelf_);
  const std::string member = "section = \"RHS 140x80x5\"\n", pitch = "pitch = \"60 kN m/rad\"\n";
  ASSERT_NE(text.find(member), std::string::npos);
  text.insert(text.find(member) + member.size(),
              "across = \"200 mm\"\n[[member]]\nname = \"other\"\nfrom = \"0 mm\"\nto = \"3600 mm\"\n"
              "material = \"steel\"\nsection = \"RHS 140x80x5\"\nacross = \"-200 mm\"\n");
  text.insert(text.find(pitch), "warping = \"held\"\n");
  const std::string rails = scratch_ / "rails.toml";
  std::ofstream(rails) << text;
  const Ended ended = pack(rails, dial_);
  ASSERT_EQ(ended.code, 0) << ended.errors;
  const node::PackedRun run = read();
  EXPECT_TRUE(run.supports.entry[0].holds_warping);
  EXPECT_FALSE(run.supports.entry[1].holds_warping);
  const beam::Piece<float>& piece = run.pieces.entry[0];
  EXPECT_NEAR(piece.warping_N_m4, piece.bending_N_m2 * 0.04F, piece.warping_N_m4 * 1e-4F);
  EXPECT_EQ(run.shear_centre_m, 0);
}

TEST_F(Pack, WritesOverNothingUnlessItIsTold) {
  ASSERT_EQ(pack(shelf_, dial_).code, 0);
  EXPECT_EQ(pack(shelf_, dial_).code, 2);
  EXPECT_EQ(pack(shelf_, dial_, "--force --stage 'on lifts'").code, 0);
  EXPECT_EQ(read().stage, 0);
}

TEST_F(Pack, NamesWhatANodeCannotHold) {
  const Ended five = pack(data("runs/hall-wardrobe-bridge.toml"), dial_);
  EXPECT_EQ(five.code, 2);
  EXPECT_NE(five.errors.find("support: found 5 supports, expected at most 4 on a node"), std::string::npos)
      << five.errors;
  const Ended stations = pack(changed("runs/gallery-display-shelf.toml", "300 mm\" }", "100 mm\" }"), dial_);
  EXPECT_EQ(stations.code, 2);
  EXPECT_NE(stations.errors.find("stations: found 37 stations, expected at most 24 on a node"),
            std::string::npos)
      << stations.errors;
  const Ended straight =
      pack(changed("runs/gallery-display-shelf.toml", "[tolerance]", "[tolerance]\nper = \"1 mm over 2 m\""),
           dial_);
  EXPECT_EQ(straight.code, 2);
  EXPECT_NE(straight.errors.find("tolerance.per: found a straight-edge, expected none on a node"),
            std::string::npos)
      << straight.errors;
  EXPECT_TRUE(book::bytes_of(scratch_ / "run.htr").empty());
}

TEST_F(Pack, SaysThatANodeTakesNoWarmthOff) {
  const Ended warm = pack(changed("runs/gallery-display-shelf.toml", "holds = \"pull\"",
                                  "holds = \"pull\"\nhangs = \"2 m\"\nexpansion = \"12e-6 /K\""),
                          dial_);
  EXPECT_EQ(warm.code, 0) << warm.errors;
  EXPECT_NE(
      warm.errors.find("Note: what the rod or post at \"east rod\" grows by in the warmth is not taken off"),
      std::string::npos)
      << warm.errors;
}

TEST_F(Pack, WantsTheNodeInTheKit) {
  const Ended none = pack(shelf_, data("kits/modbus-inclinometer.toml"));
  EXPECT_EQ(none.code, 2);
  EXPECT_NE(none.errors.find("found 0 nodes, expected one instrument that speaks xdr"), std::string::npos)
      << none.errors;
  const Ended edge = pack(shelf_, changed("kits/xdr-inclinometer.toml", "station = \"walking\"",
                                          "station = \"walking\"\nedge = \"left\""));
  EXPECT_EQ(edge.code, 2);
  EXPECT_NE(edge.errors.find("ALONG stands at an edge"), std::string::npos) << edge.errors;
  const Ended stays =
      pack(shelf_, changed("kits/xdr-inclinometer.toml", "station = \"walking\"", "station = \"1200 mm\""));
  EXPECT_EQ(stays.code, 2);
  EXPECT_NE(stays.errors.find("ALONG stays at one place"), std::string::npos) << stays.errors;
  EXPECT_EQ(command("pack '" + shelf_ + "' -o '" + (scratch_ / "run.htr") + "'").code, 2);
}

TEST_F(Pack, RefusesBadSheetsAndPlaces) {
  EXPECT_EQ(pack(changed("runs/gallery-display-shelf.toml", "3600 mm", "3600"), dial_).code, 2);
  EXPECT_EQ(pack(shelf_, dial_, "--stage nowhere").code, 2);
  EXPECT_EQ(pack("nowhere.toml", dial_).code, 2);
  EXPECT_EQ(command("pack '" + shelf_ + "' '" + dial_ + "' -o '" + (scratch_ / "no/where.htr") + "'").code,
            3);
}

}  // namespace
}  // namespace hangtrue::tools
