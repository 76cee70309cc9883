# Where everything goes on a Debian system (`cmake --install`, with DESTDIR set for a look),
# and the package rimeward made of it (`cpack`, by tools/package). Included by the
# CMakeLists.txt, at its end; of release builds only.

if(SANITIZE OR NOT CMAKE_BUILD_TYPE STREQUAL Release)
  return()
endif()
set(debian ${CMAKE_SOURCE_DIR}/config/debian)
set(programs rimewardd rimeward rimeward-draw rimeward-play rimeward-post)

# What Debian builds its own programs with (dpkg-buildflags), for programs that read what
# comes from the network. Not for tests, which are compiled without optimization.
foreach(target ${programs} rimeward_sensors rimeward_daemon rimeward_outside rimeward_post
    rimeward_terminal rimeward_drawing rimeward_playing decision_objects service_objects
    post_objects)
  target_compile_options(${target} PRIVATE -D_FORTIFY_SOURCE=2 -fstack-protector-strong)
endforeach()
foreach(program ${programs})
  target_link_options(${program} PRIVATE -Wl,-z,relro,-z,now,--as-needed)
endforeach()

# Debian's places: programs in /usr, settings in /etc, the unit where systemd looks.
if(CMAKE_INSTALL_PREFIX_INITIALIZED_TO_DEFAULT)
  set(CMAKE_INSTALL_PREFIX /usr CACHE PATH "where to install" FORCE)
endif()
set(for_all PERMISSIONS OWNER_READ OWNER_WRITE GROUP_READ WORLD_READ)
set(doc share/doc/rimeward)

install(TARGETS ${programs} RUNTIME DESTINATION bin)
install(DIRECTORY tools/cli/schema DESTINATION share/rimeward)
install(FILES config/completion/rimeward.bash ${for_all}
  DESTINATION share/bash-completion/completions RENAME rimeward)
install(FILES config/completion/_rimeward ${for_all}
  DESTINATION share/zsh/vendor-completions)
install(FILES config/completion/rimeward.fish ${for_all}
  DESTINATION share/fish/vendor_completions.d)
install(FILES config/rimeward.service ${for_all} DESTINATION /lib/systemd/system)
install(FILES ${debian}/rimeward.sysusers ${for_all}
  DESTINATION lib/sysusers.d RENAME rimeward.conf)
install(FILES config/mosquitto-rimeward.conf ${for_all}
  DESTINATION /etc/mosquitto/conf.d RENAME rimeward.conf)
# `rimeward first-time` writes garden.toml there.
install(DIRECTORY DESTINATION /etc/rimeward)
install(FILES config/garden.toml config/crops.toml ${for_all} DESTINATION ${doc}/examples)
install(FILES ${debian}/README.Debian ${for_all} DESTINATION ${doc})

file(READ LICENSE licence)
string(REGEX REPLACE "^MIT License\n\n[^\n]*\n\n" "" licence "${licence}")
string(REGEX REPLACE "\n\n" "\n.\n" licence "${licence}")
string(REGEX REPLACE "\n(.)" "\n \\1" licence " ${licence}")
configure_file(${debian}/copyright.in package/copyright @ONLY)
configure_file(${debian}/changelog.in package/changelog @ONLY)
install(FILES ${CMAKE_BINARY_DIR}/package/copyright ${for_all} DESTINATION ${doc})

# install_compressed(FILE DESTINATION): as Debian has its manual pages and documents.
function(install_compressed file destination)
  get_filename_component(name ${file} NAME)
  install(CODE "
    set(folder \"\$ENV{DESTDIR}\${CMAKE_INSTALL_PREFIX}/${destination}\")
    file(MAKE_DIRECTORY \${folder})
    execute_process(COMMAND gzip -9nc \"${file}\" OUTPUT_FILE \${folder}/${name}.gz
      COMMAND_ERROR_IS_FATAL ANY)
    file(CHMOD \${folder}/${name}.gz ${for_all})")
endfunction()
foreach(page ${CMAKE_BINARY_DIR}/man/rimeward.1 ${CMAKE_BINARY_DIR}/man/rimewardd.8
    ${CMAKE_BINARY_DIR}/man/rimeward.toml.5 ${debian}/man/rimeward-draw.1
    ${debian}/man/rimeward-play.1 ${debian}/man/rimeward-post.8)
  string(REGEX REPLACE ".*\\." "" section ${page})
  install_compressed(${page} share/man/man${section})
endforeach()
install_compressed(${CMAKE_BINARY_DIR}/package/changelog ${doc})
install_compressed(${CMAKE_SOURCE_DIR}/README.md ${doc})

set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME rimeward)
set(CPACK_SET_DESTDIR ON)
set(CPACK_STRIP_FILES ON)
set(CPACK_INSTALL_DEFAULT_DIRECTORY_PERMISSIONS OWNER_READ OWNER_WRITE OWNER_EXECUTE
  GROUP_READ GROUP_EXECUTE WORLD_READ WORLD_EXECUTE)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_COMPRESSION_TYPE xz)
set(CPACK_DEBIAN_PACKAGE_MAINTAINER "The rimeward authors <rimeward@example.org>")
set(CPACK_DEBIAN_PACKAGE_SECTION utils)
set(CPACK_DEBIAN_PACKAGE_PRIORITY optional)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_DEPENDS
  "tzdata, systemd | systemd-standalone-sysusers | systemd-sysusers")
# The broker may be another machine's. Certificates for mqtts:// and https://, letters for
# pictures of charts.
set(CPACK_DEBIAN_PACKAGE_RECOMMENDS "mosquitto, ca-certificates, fonts-dejavu-core")
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "night-cold watch for plants under unheated cover")
set(CPACK_DEBIAN_PACKAGE_DESCRIPTION
"Listens to cheap temperature and humidity sensors in a greenhouse, a cold
frame, beds and the open by way of an MQTT broker, stores every reading,
forecasts tonight's low in each place from the place's own readings, counts
the warmth that each sowing has had, and says in time what to do: cover,
uncover, open, shut, water, move on.
.
From the terminal it tells how things stand, what tonight will bring and with
what odds, the week's highs and lows, and what is due. It needs no cloud and
no forecast service, and drives nothing: it advises, the gardener decides. A
forecast is never a promise.")
set(CPACK_DEBIAN_PACKAGE_CONTROL_STRICT_PERMISSION ON)
set(CPACK_DEBIAN_PACKAGE_CONTROL_EXTRA ${debian}/conffiles ${debian}/postinst
  ${debian}/prerm ${debian}/postrm)
include(CPack)

if(BUILD_TESTING)
  set_tests_properties(test_package test_package_service PROPERTIES LABELS package)
endif()
