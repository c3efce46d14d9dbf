// A directory that goes away with the test.
#pragma once

#include <cstdlib>
#include <filesystem>
#include <string>

namespace riserkeep::testing {

class TempDir {
 public:
  TempDir() {
    std::string name = (std::filesystem::temp_directory_path() / "riserkeep-test-XXXXXX").string();
    if (::mkdtemp(name.data())) path_ = name;
  }
  ~TempDir() {
    std::error_code ignored;
    std::filesystem::remove_all(path_, ignored);
  }
  TempDir(const TempDir&) = delete;
  TempDir& operator=(const TempDir&) = delete;
  const std::filesystem::path& path() const { return path_; }

 private:
  std::filesystem::path path_;
};

}  // namespace riserkeep::testing
