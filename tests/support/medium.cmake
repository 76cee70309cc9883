# What stands between the programs and the store's medium in tests/system/test_power_cut.py,
# test_slow_medium.py and test_medium_faults.py, beside the programs where they find it.
add_library(medium_shim MODULE ${CMAKE_SOURCE_DIR}/tests/support/medium_shim.cc)
target_link_libraries(medium_shim PRIVATE flags ${CMAKE_DL_LIBS})
set_target_properties(medium_shim PROPERTIES PREFIX "")
add_dependencies(programs medium_shim)
