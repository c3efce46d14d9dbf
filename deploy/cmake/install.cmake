# `cmake --install` puts the binary, the hardened unit, the example site files and the docs in place.
set(unit_dir lib/systemd/system)
# At installation, since only then is it known under which prefix the program will be found.
install(CODE "
  set(CMAKE_INSTALL_FULL_BINDIR \"\${CMAKE_INSTALL_PREFIX}/${CMAKE_INSTALL_BINDIR}\")
  set(CMAKE_INSTALL_FULL_DOCDIR \"\${CMAKE_INSTALL_PREFIX}/${CMAKE_INSTALL_DOCDIR}\")
  configure_file(\"${PROJECT_SOURCE_DIR}/deploy/riserkeep.service.in\" \"${PROJECT_BINARY_DIR}/riserkeep.service\" @ONLY)")

install(TARGETS riserkeep RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR})
install(FILES ${PROJECT_BINARY_DIR}/riserkeep.service DESTINATION ${unit_dir})
install(FILES deploy/riserkeep.sysusers DESTINATION lib/sysusers.d RENAME riserkeep.conf)
install(DIRECTORY config/examples/ DESTINATION ${CMAKE_INSTALL_DOCDIR}/examples)
install(DIRECTORY docs/ DESTINATION ${CMAKE_INSTALL_DOCDIR})
install(FILES README.md LICENSE CHANGELOG.md DESTINATION ${CMAKE_INSTALL_DOCDIR})
