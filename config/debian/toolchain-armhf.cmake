# Cross-compiles for Debian's armhf (32-bit boards from ARMv7 on); see tools/package, which
# fills the system root.
set(rimeward_arch armhf)
set(rimeward_triplet arm-linux-gnueabihf)
set(rimeward_processor armv7l)
set(rimeward_emulator qemu-arm-static)
# g++ tells of a change of its calling convention before version 7; all here is younger.
set(CMAKE_CXX_FLAGS_INIT -Wno-psabi)
include(${CMAKE_CURRENT_LIST_DIR}/toolchain.cmake)
