// ways_of_speaking.hpp: within tools/rehearsal: one maker for each way in which an instrument speaks (instruments.hpp).
#pragma once

#include "tools/rehearsal/instruments.hpp"

namespace hangtrue::rehearsal {

[[nodiscard]] std::unique_ptr<Instrument> make_xdr_instrument(const Truth& truth, const sheet::KitSheet& kit,
                                                              std::size_t index, std::uint64_t seed,
                                                              FaultRates rates, double handling_s);
[[nodiscard]] std::unique_ptr<Instrument> make_line_instrument(const Truth& truth, const sheet::KitSheet& kit,
                                                               std::size_t index, std::uint64_t seed,
                                                               FaultRates rates, double handling_s);
[[nodiscard]] std::unique_ptr<Instrument> make_modbus_instrument(const Truth& truth,
                                                                 const sheet::KitSheet& kit,
                                                                 std::size_t index, std::uint64_t seed,
                                                                 FaultRates rates, double handling_s);

}  // namespace hangtrue::rehearsal
