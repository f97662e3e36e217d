// How is an HDF5 file made and read without HDF5 ever touching the disk? Private to the writers of results.
//
// Files are built in memory (core driver, no backing store) and handed out as bytes; ResultFolder writes those like any
// other file. So a full disk, a kill or a lock of the file system meets one piece of code, and the library never holds
// a half-written file open. Times of objects are not recorded: same content, same bytes.
#pragma once

#include "mesh/check.h"

#include <hdf5.h>

#include <algorithm>
#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <string_view>
#include <utility>
#include <vector>

namespace pellicle::results::h5 {

/// Closes what HDF5 opened.
class Handle {
 public:
  using Close = herr_t (*)(hid_t);
  Handle(hid_t id, Close how, const char* promise) : id_(id), close_(how) { ensure(id >= 0, promise); }
  Handle(Handle&& other) noexcept : id_(std::exchange(other.id_, H5I_INVALID_HID)), close_(other.close_) {}
  Handle(const Handle&) = delete;
  Handle& operator=(const Handle&) = delete;
  Handle& operator=(Handle&&) = delete;
  ~Handle() { close(); }
  hid_t get() const { return id_; }
  void close() {
    if (id_ >= 0) close_(id_);
    id_ = H5I_INVALID_HID;
  }

 private:
  hid_t id_;
  Close close_;
};

template <class T>
hid_t native();
template <>
inline hid_t native<float>() {
  return H5T_NATIVE_FLOAT;
}
template <>
inline hid_t native<double>() {
  return H5T_NATIVE_DOUBLE;
}
template <>
inline hid_t native<std::int8_t>() {
  return H5T_NATIVE_INT8;
}
template <>
inline hid_t native<std::int32_t>() {
  return H5T_NATIVE_INT32;
}
template <>
inline hid_t native<std::int64_t>() {
  return H5T_NATIVE_INT64;
}

/// Little-endian type in the file, so that a file is the same on every machine.
template <class T>
hid_t stored();
template <>
inline hid_t stored<float>() {
  return H5T_IEEE_F32LE;
}
template <>
inline hid_t stored<double>() {
  return H5T_IEEE_F64LE;
}
template <>
inline hid_t stored<std::int8_t>() {
  return H5T_STD_I8LE;
}
template <>
inline hid_t stored<std::int32_t>() {
  return H5T_STD_I32LE;
}
template <>
inline hid_t stored<std::int64_t>() {
  return H5T_STD_I64LE;
}

inline Handle text_type() {
  Handle type(H5Tcopy(H5T_C_S1), H5Tclose, "HDF5 copies a string type");
  ensure(H5Tset_size(type.get(), H5T_VARIABLE) >= 0 && H5Tset_cset(type.get(), H5T_CSET_UTF8) >= 0,
         "HDF5 has UTF-8 strings");
  return type;
}

inline Handle memory_access() {
  constexpr std::size_t kGrowth_bytes = std::size_t{1} << 22;
  H5Eset_auto2(H5E_DEFAULT, nullptr, nullptr);  // errors are told by us, once
  Handle access(H5Pcreate(H5P_FILE_ACCESS), H5Pclose, "HDF5 makes an access list");
  ensure(H5Pset_fapl_core(access.get(), kGrowth_bytes, false) >= 0, "HDF5 works in memory");
  return access;
}

inline Handle without_times(hid_t list_class) {
  Handle list(H5Pcreate(list_class), H5Pclose, "HDF5 makes a creation list");
  ensure(H5Pset_obj_track_times(list.get(), false) >= 0, "HDF5 leaves times out");
  return list;
}

/// A file being built. Group, dataset and attribute names are absolute paths and plain names.
class Writer {
 public:
  Writer()
      : file_(
            H5Fcreate("pellicle-in-memory", H5F_ACC_TRUNC, without_times(H5P_FILE_CREATE).get(), memory_access().get()),
            H5Fclose, "HDF5 starts a file in memory") {}

  void group(const char* name) {
    const Handle made(H5Gcreate2(file_.get(), name, H5P_DEFAULT, without_times(H5P_GROUP_CREATE).get(), H5P_DEFAULT),
                      H5Gclose, "HDF5 makes a group");
  }

  /// rows = values.size() / columns; columns = 1 makes a plain list. Shuffled and deflated (level 1 gives most of
  /// the gain at half the time of level 4, measured on smooth fields).
  template <class T>
  void dataset(const std::string& name, std::span<const T> values, std::size_t columns = 1) {
    constexpr std::size_t kChunk_rows = 16384;  // 64 to 393 kB a chunk of up to three columns
    ensure(values.size() % columns == 0, "a dataset has full rows");
    const std::size_t rows = values.size() / columns;
    const int rank = columns == 1 ? 1 : 2;
    const std::array<hsize_t, 2> size{rows, columns};
    const Handle space(H5Screate_simple(rank, size.data(), nullptr), H5Sclose, "HDF5 makes a data space");
    const Handle create = without_times(H5P_DATASET_CREATE);
    if (rows > 0) {  // a chunk may not be empty
      const std::size_t chunk_rows = std::max<std::size_t>(1, kChunk_rows / std::max<std::size_t>(1, columns / 4));
      const std::array<hsize_t, 2> chunk{std::min(rows, chunk_rows), columns};
      ensure(H5Pset_chunk(create.get(), rank, chunk.data()) >= 0 && H5Pset_shuffle(create.get()) >= 0 &&
                 H5Pset_deflate(create.get(), 1) >= 0,
             "HDF5 compresses");
    }
    const Handle set(
        H5Dcreate2(file_.get(), name.c_str(), stored<T>(), space.get(), H5P_DEFAULT, create.get(), H5P_DEFAULT),
        H5Dclose, "HDF5 makes a dataset");
    if (rows > 0) {
      ensure(H5Dwrite(set.get(), native<T>(), H5S_ALL, H5S_ALL, H5P_DEFAULT, values.data()) >= 0,
             "HDF5 stores a dataset");
    }
  }

  template <class T>
  void attribute(const char* name, T value) {
    attribute(name, stored<T>(), native<T>(), &value);
  }
  void attribute(const char* name, const std::string& text) {
    ensure(text.find('\0') == std::string::npos, "text has no zero byte");
    const char* start = text.c_str();
    const Handle type = text_type();
    attribute(name, type.get(), type.get(), &start);
  }

  /// The finished file. The writer is empty afterwards.
  std::string finish() {
    ensure(H5Fflush(file_.get(), H5F_SCOPE_GLOBAL) >= 0, "HDF5 completes the file");
    const ssize_t size = H5Fget_file_image(file_.get(), nullptr, 0);
    ensure(size > 0, "HDF5 knows the file's size");
    std::string bytes(static_cast<std::size_t>(size), '\0');
    ensure(H5Fget_file_image(file_.get(), bytes.data(), bytes.size()) == size, "HDF5 hands out the file");
    file_.close();
    return bytes;
  }

 private:
  void attribute(const char* name, hid_t stored_type, hid_t native_type, const void* value) {
    const Handle space(H5Screate(H5S_SCALAR), H5Sclose, "HDF5 makes a scalar space");
    const Handle made(H5Acreate2(file_.get(), name, stored_type, space.get(), H5P_DEFAULT, H5P_DEFAULT), H5Aclose,
                      "HDF5 makes an attribute");
    ensure(H5Awrite(made.get(), native_type, value) >= 0, "HDF5 stores an attribute");
  }

  Handle file_;
};

/// A file read from its bytes. `name` is for messages. Throws Error (case) if it is not what it should be.
class Reader {
 public:
  Reader(std::string bytes, std::string name) : name_(std::move(name)), file_(open(bytes, name_)) {}

  template <class T>
  std::vector<T> dataset(const char* name, std::size_t columns = 1) const {
    const Handle set(opened(H5Dopen2(file_.get(), name, H5P_DEFAULT), name), H5Dclose, "HDF5 opens a dataset");
    const Handle space(H5Dget_space(set.get()), H5Sclose, "HDF5 knows a dataset's size");
    const hssize_t size = H5Sget_simple_extent_npoints(space.get());
    if (size < 0 || static_cast<std::size_t>(size) % columns != 0) broken(std::string(name) + " of a wrong size");
    std::vector<T> values(static_cast<std::size_t>(size));
    if (size > 0 && H5Dread(set.get(), native<T>(), H5S_ALL, H5S_ALL, H5P_DEFAULT, values.data()) < 0) {
      broken(std::string(name) + " that cannot be read");
    }
    return values;
  }

  bool holds(const char* name) const { return H5Lexists(file_.get(), name, H5P_DEFAULT) > 0; }

  template <class T>
  T attribute(const char* name) const {
    const Handle held(opened(H5Aopen(file_.get(), name, H5P_DEFAULT), name), H5Aclose, "HDF5 opens an attribute");
    T value{};
    if (H5Aread(held.get(), native<T>(), &value) < 0) broken(std::string(name) + " that cannot be read");
    return value;
  }
  std::string text_attribute(const char* name) const {
    const Handle held(opened(H5Aopen(file_.get(), name, H5P_DEFAULT), name), H5Aclose, "HDF5 opens an attribute");
    const Handle type = text_type();
    char* start = nullptr;
    if (H5Aread(held.get(), type.get(), &start) < 0) broken(std::string(name) + " that cannot be read");
    std::string text = start == nullptr ? "" : start;
    H5free_memory(start);
    return text;
  }

  [[noreturn]] void broken(const std::string& found) const {
    throw Error({Fault::Kind::kCase, name_, found, "a file written by this program, whole",
                 "it may be damaged or of another version; run the case again"});
  }

 private:
  static Handle open(std::string& bytes, const std::string& name) {
    const Handle access = memory_access();
    // HDF5 takes no empty image: that is no file either.
    const bool taken = !bytes.empty() && H5Pset_file_image(access.get(), bytes.data(), bytes.size()) >= 0;
    const hid_t id = taken ? H5Fopen("pellicle-in-memory", H5F_ACC_RDONLY, access.get()) : H5I_INVALID_HID;
    if (id < 0) {
      throw Error({Fault::Kind::kCase, name, "no HDF5 file", "a file written by this program, whole",
                   "it may be damaged; run the case again"});
    }
    return Handle(id, H5Fclose, "HDF5 opens a file");
  }
  hid_t opened(hid_t id, const char* name) const {
    if (id < 0) broken(std::string("no ") + name);
    return id;
  }

  std::string name_;
  Handle file_;
};

}  // namespace pellicle::results::h5
