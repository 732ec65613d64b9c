// version.hpp: what this build is: version, commit where the build knew it, and the formats that it writes and reads.
#pragma once

#include <string>
#include <string_view>

namespace hangtrue {

/// Of what --json prints, as data/interfaces.md has it. Raised when a member goes away or means something else; new members alone
/// do not raise it.
inline constexpr int kJsonForm = 1;

/// "0.1.0"
[[nodiscard]] std::string_view version();
/// Twelve digits of the commit; "-dirty" behind them where files were changed since. Empty where the sources were no clone.
[[nodiscard]] std::string_view commit();
/// What `program --version` prints: one line each for the program, the level book and JSON; no line end behind the last.
[[nodiscard]] std::string version_text(std::string_view program);

}  // namespace hangtrue
