// hangtrue: the command. One file a subcommand.
#include "tools/hangtrue/subcommand.hpp"

int main(int argc, char** argv) {
  return hangtrue::tools::run_command(argc, argv, hangtrue::tools::add_hangtrue);
}
