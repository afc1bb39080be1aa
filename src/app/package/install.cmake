# SPDX-License-Identifier: GPL-3.0-or-later
# What `cmake --install` puts where, and the manual pages. Everything is found relative to where it
# is installed, so the prefix may change at install time.
set(caber_package_dir ${CMAKE_CURRENT_LIST_DIR})
set(caber_cmake_dir ${CMAKE_INSTALL_LIBDIR}/cmake/caber)

# ---------------------------------------------------------------- program, libraries, header
# The shared library is caber::caber; the static one is the component `static`.
set_target_properties(caber_shared PROPERTIES EXPORT_NAME caber)
set_target_properties(caber PROPERTIES EXPORT_NAME caber_static)
install(TARGETS caber_program)
install(TARGETS caber_shared EXPORT caber)
install(TARGETS caber EXPORT caber_static)
install(FILES include/caber.h TYPE INCLUDE)
install(EXPORT caber NAMESPACE caber:: FILE caberTargets.cmake DESTINATION ${caber_cmake_dir})
install(EXPORT caber_static NAMESPACE caber:: FILE caberStaticTargets.cmake
  DESTINATION ${caber_cmake_dir})

configure_package_config_file(${caber_package_dir}/caberConfig.cmake.in caberConfig.cmake
  INSTALL_DESTINATION ${caber_cmake_dir} NO_SET_AND_CHECK_MACRO)
write_basic_package_version_file(caberConfigVersion.cmake COMPATIBILITY SameMinorVersion)
install(FILES ${PROJECT_BINARY_DIR}/caberConfig.cmake ${PROJECT_BINARY_DIR}/caberConfigVersion.cmake
  DESTINATION ${caber_cmake_dir})
file(RELATIVE_PATH caber_pc_to_prefix /p/${CMAKE_INSTALL_LIBDIR}/pkgconfig /p)
configure_file(${caber_package_dir}/caber.pc.in caber.pc @ONLY)
install(FILES ${PROJECT_BINARY_DIR}/caber.pc DESTINATION ${CMAKE_INSTALL_LIBDIR}/pkgconfig)

# ---------------------------------------------------------------- models, documents, completion
install(DIRECTORY models DESTINATION ${CMAKE_INSTALL_DATADIR}/caber FILES_MATCHING
  PATTERN "*.yaml" PATTERN "*.csv")
install(FILES README.md DEVELOPERS.md LICENSE TYPE DOC)
install(DIRECTORY examples TYPE DOC FILES_MATCHING PATTERN "*.c" PATTERN "*.sh" PATTERN "*.py"
  PERMISSIONS OWNER_READ OWNER_WRITE GROUP_READ WORLD_READ)
install(FILES src/app/completion/caber
  DESTINATION ${CMAKE_INSTALL_DATADIR}/bash-completion/completions)

# ---------------------------------------------------------------- manual pages
# caber-files(5) is what the program itself says about its files.
set(caber_pages)
function(caber_page page command)
  set(target_file ${PROJECT_BINARY_DIR}/man/${page})
  add_custom_command(OUTPUT ${target_file}
    COMMAND sh -c "${command} > '${target_file}.part'" VERBATIM
    COMMAND ${CMAKE_COMMAND} -E rename ${target_file}.part ${target_file}
    DEPENDS ${ARGN})
  string(REGEX REPLACE ".*\\." "" section ${page})
  install(FILES ${target_file} DESTINATION ${CMAKE_INSTALL_MANDIR}/man${section})
  set(caber_pages ${caber_pages} ${target_file} PARENT_SCOPE)
endfunction()

if(CABER_MAN)
  find_program(SCDOC scdoc)
  if(SCDOC)
    file(MAKE_DIRECTORY ${PROJECT_BINARY_DIR}/man)
    file(GLOB sources CONFIGURE_DEPENDS src/app/man/*.scd)
    foreach(source ${sources})
      get_filename_component(page ${source} NAME_WLE)
      caber_page(${page} "'${SCDOC}' < '${source}'" ${source})
    endforeach()
    set(program $<TARGET_FILE:caber_program>)
    set(files_source ${PROJECT_BINARY_DIR}/man/caber-files.5.scd)
    caber_page(caber-files.5
      "'${program}' fields --man > '${files_source}' && '${SCDOC}' < '${files_source}'" caber_program)
    add_custom_target(caber_man ALL DEPENDS ${caber_pages})
  else()
    message(STATUS "scdoc is not installed: everything but the manual pages is built")
  endif()
endif()
