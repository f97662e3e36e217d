// Where do results go, and whose files may be replaced? One folder, written so that a kill leaves it readable.
#pragma once

#include <filesystem>
#include <string>
#include <string_view>
#include <vector>

namespace pellicle::results {

/// First words of files whose names others use too; by them an earlier one of ours is known.
inline constexpr std::string_view kChartTable = "gauge_mm,thickness_mm,pressure_MPa,shear_modulus_MPa";
inline constexpr std::string_view kMeasuredTable = "point,name,x_mm,y_mm,z_mm,distance_mm,measured_mm,predicted_mm";
inline constexpr std::string_view kMeasuredCard = "# Card of a sheet, measured by pellicle";
inline constexpr std::string_view kOpenScriptStart = "# A result of pellicle, opened in ParaView";
inline constexpr std::string_view kPartStl = "The formed part, by pellicle, mm";
inline constexpr std::string_view kScaledMouldStl = "The mould with shrinkage, by pellicle, mm";

/// True for a name pellicle gives its own files (or such a name with .tmp). What --force may delete.
bool is_result_name(std::string_view name);

/// The folder DIR of one run. Looking at it creates nothing; the first write does.
///
/// Symlinks: DIR itself may be one, it is the user's choice of disk. An entry inside that is not a plain file is never
/// ours: the folder is refused. New files are created exclusively and renamed over old ones, so nothing is ever written
/// through a link.
class ResultFolder {
 public:
  /// Throws Error (case) if DIR cannot be used: results without `force`, files of others, an input of this run inside,
  /// no folder at all, or a place where nothing may be created.
  ResultFolder(std::filesystem::path folder, bool force, const std::vector<std::filesystem::path>& inputs);
  /// The folder of a run that was interrupted, to go on in: what is there stays. Throws Error (case) if it has no
  /// checkpoint.h5.
  static ResultFolder going_on(std::filesystem::path folder);
  ResultFolder(const ResultFolder&) = delete;
  ResultFolder& operator=(const ResultFolder&) = delete;
  ~ResultFolder();

  const std::filesystem::path& path() const { return folder_; }
  /// Whether anything has been written by this run.
  bool started() const { return handle_ >= 0; }

  /// Writes NAME.tmp, syncs it, renames it. The first call makes the folder, or empties it of an earlier run's files.
  /// Throws Error if the disk will not have it; then no NAME.tmp is left and what was there before is untouched.
  void write(const std::string& name, std::string_view bytes);
  void remove(const std::string& name);

  /// Takes the folder for this run, which the first write does otherwise: nobody else may write to it from then on.
  void start();

 private:
  struct GoingOn {};
  ResultFolder(std::filesystem::path folder, GoingOn);
  [[noreturn]] void refuse(const std::string& name, int error_number) const;

  std::filesystem::path folder_;
  bool force_;
  bool keeps_ = false;  ///< what is there
  int handle_ = -1;     ///< the open folder; holds a lock against a second run in the same place
};

/// A results folder that is read: no run may begin to write to it meanwhile.
class HeldFolder {
 public:
  /// Throws Error (case) if there is no such folder, or if a run is writing to it.
  explicit HeldFolder(std::filesystem::path folder);
  HeldFolder(const HeldFolder&) = delete;
  HeldFolder& operator=(const HeldFolder&) = delete;
  ~HeldFolder();

  const std::filesystem::path& path() const { return folder_; }
  /// Whether it holds a plain file of this name; a link is none.
  bool holds(const std::string& name) const;
  /// Name of the frame with the largest number; empty if there is none.
  std::string last_frame() const;

 private:
  std::filesystem::path folder_;
  int handle_ = -1;
};

/// Whole content of a file. Throws Error (case).
std::string read_file(const std::filesystem::path& file);

}  // namespace pellicle::results
