// faulty_vfs.hpp: SQLite's file system for this process, with the Nth thing that changes a file failing.
//
// Counted   opening to create, writing, truncating, syncing, extending shared memory, deleting. Reading never fails here.
// Then      either that one operation fails and all that follow work, or everything fails from there on, as when the process
//           had died there. A write that fails may leave its first half behind, as a full disk does.
#pragma once

#include <gtest/gtest.h>
#include <sqlite3.h>

#include <cstring>

namespace hangtrue::book {

class FaultyVfs {
 public:
  enum class After { works_again, all_fails };
  struct Fault {
    int code = SQLITE_IOERR_WRITE;  // SQLITE_FULL ...
    After after = After::works_again;
    bool torn = false;
  };

  FaultyVfs() {
    real() = sqlite3_vfs_find(nullptr);
    vfs_ = *real();
    vfs_.zName = "faulty";
    vfs_.szOsFile = static_cast<int>(sizeof(File)) + real()->szOsFile;
    vfs_.xOpen = open;
    vfs_.xDelete = remove;
    EXPECT_EQ(sqlite3_vfs_register(&vfs_, /*as the default*/ 1), SQLITE_OK);
    mend();
  }
  ~FaultyVfs() {
    sqlite3_vfs_unregister(&vfs_);
    sqlite3_vfs_register(real(), 1);
  }
  FaultyVfs(const FaultyVfs&) = delete;
  FaultyVfs& operator=(const FaultyVfs&) = delete;

  void fail_at(int operation, Fault fault) { state() = {operation, fault, false, 0, 0}; }
  void mend() { state().left = -1; }
  /// Whether the operation came to pass.
  [[nodiscard]] bool failed() const { return state().failed; }
  /// How often a file was synced, so far.
  [[nodiscard]] static int syncs() { return state().syncs; }
  /// How often a file was read, so far.
  [[nodiscard]] static int reads() { return state().reads; }

 private:
  struct State {
    int left = -1;
    Fault fault;
    bool failed = false;
    int syncs = 0, reads = 0;
  };
  struct File {
    sqlite3_file base;
    [[nodiscard]] sqlite3_file* wrapped() { return reinterpret_cast<sqlite3_file*>(this + 1); }
  };

  static sqlite3_vfs*& real() {
    static sqlite3_vfs* vfs = nullptr;
    return vfs;
  }
  static State& state() {
    static State state;
    return state;
  }
  static sqlite3_file* of(sqlite3_file* file) { return reinterpret_cast<File*>(file)->wrapped(); }
  static const sqlite3_io_methods* methods(sqlite3_file* file) { return of(file)->pMethods; }

  static bool fails() {
    State& now = state();
    if (now.left > 0) --now.left;
    if (now.left != 0) return false;
    now.failed = true;
    if (now.fault.after == After::works_again) now.left = -1;
    return true;
  }

  static int open(sqlite3_vfs*, const char* name, sqlite3_file* file, int flags, int* out) {
    file->pMethods = nullptr;
    if ((flags & SQLITE_OPEN_CREATE) != 0 && fails()) return SQLITE_CANTOPEN;
    sqlite3_file* const wrapped = of(file);
    std::memset(wrapped, 0, static_cast<std::size_t>(real()->szOsFile));
    const int code = real()->xOpen(real(), name, wrapped, flags, out);
    if (wrapped->pMethods != nullptr) file->pMethods = &kMethods;
    return code;
  }
  static int remove(sqlite3_vfs*, const char* name, int sync) {
    return fails() ? SQLITE_IOERR_DELETE : real()->xDelete(real(), name, sync);
  }
  static int close(sqlite3_file* file) { return methods(file)->xClose(of(file)); }
  static int read(sqlite3_file* file, void* bytes, int count, sqlite3_int64 at) {
    ++state().reads;
    return methods(file)->xRead(of(file), bytes, count, at);
  }
  static int write(sqlite3_file* file, const void* bytes, int count, sqlite3_int64 at) {
    if (!fails()) return methods(file)->xWrite(of(file), bytes, count, at);
    if (state().fault.torn) methods(file)->xWrite(of(file), bytes, count / 2, at);
    return state().fault.code;
  }
  static int truncate(sqlite3_file* file, sqlite3_int64 size) {
    return fails() ? SQLITE_IOERR_TRUNCATE : methods(file)->xTruncate(of(file), size);
  }
  static int sync(sqlite3_file* file, int flags) {
    ++state().syncs;
    return fails() ? SQLITE_IOERR_FSYNC : methods(file)->xSync(of(file), flags);
  }
  static int size(sqlite3_file* file, sqlite3_int64* size) {
    return methods(file)->xFileSize(of(file), size);
  }
  static int lock(sqlite3_file* file, int level) { return methods(file)->xLock(of(file), level); }
  static int unlock(sqlite3_file* file, int level) { return methods(file)->xUnlock(of(file), level); }
  static int reserved(sqlite3_file* file, int* out) {
    return methods(file)->xCheckReservedLock(of(file), out);
  }
  static int control(sqlite3_file* file, int what, void* with) {
    return methods(file)->xFileControl(of(file), what, with);
  }
  static int sector(sqlite3_file* file) { return methods(file)->xSectorSize(of(file)); }
  static int character(sqlite3_file* file) { return methods(file)->xDeviceCharacteristics(of(file)); }
  static int shared_map(sqlite3_file* file, int region, int size, int extend, void volatile** out) {
    if (extend != 0 && fails()) return SQLITE_IOERR_SHMSIZE;
    return methods(file)->xShmMap(of(file), region, size, extend, out);
  }
  static int shared_lock(sqlite3_file* file, int offset, int count, int flags) {
    return methods(file)->xShmLock(of(file), offset, count, flags);
  }
  static void shared_barrier(sqlite3_file* file) { methods(file)->xShmBarrier(of(file)); }
  static int shared_unmap(sqlite3_file* file, int remove_it) {
    return methods(file)->xShmUnmap(of(file), remove_it);
  }
  static int fetch(sqlite3_file* file, sqlite3_int64 at, int count, void** out) {
    return methods(file)->xFetch(of(file), at, count, out);
  }
  static int unfetch(sqlite3_file* file, sqlite3_int64 at, void* bytes) {
    return methods(file)->xUnfetch(of(file), at, bytes);
  }

  static constexpr sqlite3_io_methods kMethods{
      3,           close,          read,         write,   truncate, sync,      size,
      lock,        unlock,         reserved,     control, sector,   character, shared_map,
      shared_lock, shared_barrier, shared_unmap, fetch,   unfetch};
  sqlite3_vfs vfs_{};
};

}  // namespace hangtrue::book
