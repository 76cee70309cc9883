# Cross-compiles for Debian's arm64 (64-bit boards); see tools/package, which fills the
# system root.
set(rimeward_arch arm64)
set(rimeward_triplet aarch64-linux-gnu)
set(rimeward_processor aarch64)
set(rimeward_emulator qemu-aarch64-static)
include(${CMAKE_CURRENT_LIST_DIR}/toolchain.cmake)
