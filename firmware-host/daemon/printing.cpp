#include "firmware-host/daemon/printing.hpp"

#include <fcntl.h>
#include <spawn.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cerrno>
#include <csignal>
#include <cstring>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <system_error>
#include <utility>
#include <vector>

namespace hangtrue::daemon {
namespace {

namespace fs = std::filesystem;

std::string program_that_draws() {
  constexpr const char* kName = "hangtrue-report";
  std::error_code unknown;
  const fs::path here = fs::read_symlink("/proc/self/exe", unknown).parent_path();
  for (const fs::path& place : {here / kName, here.parent_path() / "libexec" / "hangtrue" / kName,
                                here.parent_path() / "tools" / kName})
    if (fs::exists(place, unknown)) return place.string();
  return "";
}

std::string content_of(const fs::path& path) {
  std::ifstream file(path, std::ios::binary);
  return {std::istreambuf_iterator<char>(file), std::istreambuf_iterator<char>()};
}

std::vector<std::string> words_of(const page::Document& document) {
  using Kind = page::Document::Kind;
  // In one word with its option: a name may begin with a dash.
  if (document.kind == Kind::recheck) return {"--from=" + document.from, "--to=" + document.survey};
  std::vector<std::string> words = {"--survey=" + document.survey};
  if (document.kind == Kind::card) words.emplace_back("--card");
  return words;
}

}  // namespace

Printing::~Printing() {
  std::thread maker;
  {
    const std::lock_guard lock(mutex_);
    ending_ = true;
    if (child_ > 0) ::kill(child_, SIGKILL);
    maker = std::move(maker_);
  }
  if (maker.joinable()) maker.join();
}

void Printing::print(const page::Document& document, std::function<void(std::string)> reply) {
  if (busy_.exchange(true)) return reply("Another document is being made; ask again in a moment.");
  const std::lock_guard lock(mutex_);
  if (ending_) return;
  if (maker_.joinable()) maker_.join();  // it has ended: it is not busy
  maker_ = std::thread([this, document, reply = std::move(reply)] {
    std::string text = made(document);
    busy_ = false;
    reply(std::move(text));
  });
}

std::string Printing::made(const page::Document& document) {
  const std::string program = program_that_draws();
  if (program.empty())
    return "The program that draws, hangtrue-report, is not there: it comes with the package "
           "hangtrue-report.";
  std::string folder = (fs::temp_directory_path() / "hangtrue-print-XXXXXX").string();
  if (::mkdtemp(folder.data()) == nullptr)
    return "No document can be made: " + std::string(std::strerror(errno)) + '.';
  std::string text = drawn(program, document, folder);
  std::error_code left;  // a temporary file more
  fs::remove_all(folder, left);
  return text;
}

std::string Printing::drawn(const std::string& program, const page::Document& document,
                            const std::string& folder) {
  const std::string pdf = folder + "/document.pdf", says = folder + "/says";
  std::vector<std::string> words = words_of(document);
  words.insert(words.begin(), {program, "report", "--book=" + book_path_, "--out=" + pdf});
  std::vector<char*> argv;
  for (std::string& word : words) argv.push_back(word.data());
  argv.push_back(nullptr);

  posix_spawn_file_actions_t files;
  ::posix_spawn_file_actions_init(&files);
  ::posix_spawn_file_actions_addopen(&files, 0, "/dev/null", O_RDONLY, 0);
  ::posix_spawn_file_actions_addopen(&files, 1, "/dev/null", O_WRONLY, 0);
  ::posix_spawn_file_actions_addopen(&files, 2, says.c_str(), O_WRONLY | O_CREAT | O_TRUNC, 0600);
  ::posix_spawn_file_actions_addclosefrom_np(&files, 3);
  pid_t child = 0;
  int error = 0;
  {
    const std::lock_guard lock(mutex_);
    error =
        ending_ ? ECANCELED : ::posix_spawn(&child, program.c_str(), &files, nullptr, argv.data(), environ);
    if (error == 0) child_ = child;
  }
  ::posix_spawn_file_actions_destroy(&files);
  if (error != 0) return program + " cannot be started: " + std::strerror(error) + '.';
  // Not reaped before nobody can end it any more: its number may be another's then.
  siginfo_t ended{};
  while (::waitid(P_PID, id_t(child), &ended, WEXITED | WNOWAIT) != 0 && errno == EINTR) {
  }
  {
    const std::lock_guard lock(mutex_);
    child_ = 0;
  }
  int status = 0;
  while (::waitpid(child, &status, 0) < 0 && errno == EINTR) {
  }
  if (status == 0) return content_of(pdf);
  const std::string why = content_of(says);
  return why.empty() ? "The program that draws ended without a document." : why;
}

}  // namespace hangtrue::daemon
