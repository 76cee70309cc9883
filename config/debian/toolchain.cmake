# What cross-compiling for one architecture of Debian shares with the next. Included by
# toolchain-ARCH.cmake. The system root is build/sysroot-ARCH/root.
set(CMAKE_SYSTEM_NAME Linux)
set(CMAKE_SYSTEM_PROCESSOR ${rimeward_processor})
set(CMAKE_LIBRARY_ARCHITECTURE ${rimeward_triplet})
get_filename_component(CMAKE_SYSROOT
  ${CMAKE_CURRENT_LIST_DIR}/../../build/sysroot-${rimeward_arch}/root ABSOLUTE)

find_program(CMAKE_CXX_COMPILER ${rimeward_triplet}-g++ REQUIRED)
find_program(CMAKE_STRIP ${rimeward_triplet}-strip REQUIRED)
set(CMAKE_FIND_ROOT_PATH ${CMAKE_SYSROOT})
set(CMAKE_FIND_ROOT_PATH_MODE_PROGRAM NEVER)
set(CMAKE_FIND_ROOT_PATH_MODE_LIBRARY ONLY)
set(CMAKE_FIND_ROOT_PATH_MODE_INCLUDE ONLY)
set(CMAKE_FIND_ROOT_PATH_MODE_PACKAGE ONLY)
set(ENV{PKG_CONFIG_SYSROOT_DIR} ${CMAKE_SYSROOT})
set(ENV{PKG_CONFIG_LIBDIR}
  ${CMAKE_SYSROOT}/usr/lib/${rimeward_triplet}/pkgconfig:${CMAKE_SYSROOT}/usr/share/pkgconfig)

# For programs of the build that are run by it, and for tests.
find_program(rimeward_emulator_path ${rimeward_emulator})
if(rimeward_emulator_path)
  set(CMAKE_CROSSCOMPILING_EMULATOR ${rimeward_emulator_path} -L ${CMAKE_SYSROOT})
endif()

set(CPACK_DEBIAN_PACKAGE_ARCHITECTURE ${rimeward_arch})
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS_PRIVATE_DIRS
  ${CMAKE_SYSROOT}/usr/lib/${rimeward_triplet} ${CMAKE_SYSROOT}/lib/${rimeward_triplet})
