# What does `cmake --install` put where, and what is in the Debian package? Included at the top of the tree.
include(GNUInstallDirs)
set(guide ${CMAKE_BINARY_DIR}/guide)  # made from the program itself, see CMakeLists.txt beside this file
set(pellicle_doc ${CMAKE_INSTALL_DATAROOTDIR}/doc/pellicle)

install(TARGETS pellicle RUNTIME DESTINATION ${CMAKE_INSTALL_BINDIR})
install(FILES ${guide}/pellicle.1.gz DESTINATION ${CMAKE_INSTALL_MANDIR}/man1)
install(FILES ${guide}/pellicle.bash DESTINATION ${CMAKE_INSTALL_DATAROOTDIR}/bash-completion/completions
  RENAME pellicle)
install(FILES ${guide}/pellicle.fish DESTINATION ${CMAKE_INSTALL_DATAROOTDIR}/fish/vendor_completions.d)
install(FILES README.md DEVELOPERS.md LICENSE DESTINATION ${pellicle_doc})
install(FILES LICENSE DESTINATION ${pellicle_doc} RENAME copyright)
install(DIRECTORY docs DESTINATION ${pellicle_doc})
# Cases stand apart, as slim systems leave out share/doc. Two links keep those of the pages valid.
install(DIRECTORY cases DESTINATION ${CMAKE_INSTALL_DATAROOTDIR}/pellicle
  PATTERN run EXCLUDE PATTERN __pycache__ EXCLUDE PATTERN "*-results" EXCLUDE)
file(CREATE_LINK ../../pellicle/cases ${guide}/cases SYMBOLIC)
file(CREATE_LINK ../doc/pellicle/docs ${guide}/docs SYMBOLIC)
install(FILES ${guide}/cases DESTINATION ${pellicle_doc})
install(FILES ${guide}/docs DESTINATION ${CMAKE_INSTALL_DATAROOTDIR}/pellicle)

set(CMAKE_SKIP_INSTALL_ALL_DEPENDENCY ON)  # tests need not be built to pack the program
set(CPACK_GENERATOR DEB)
set(CPACK_PACKAGE_NAME pellicle)
set(CPACK_PACKAGE_VERSION ${PROJECT_VERSION})
set(CPACK_PACKAGE_CONTACT "Pellicle developers <developers@pellicle.invalid>")  # .invalid: RFC 2606
set(CPACK_PACKAGE_DESCRIPTION_SUMMARY "predicts how a heated plastic sheet forms over a printed mould")
set(CPACK_PACKAGE_DESCRIPTION "Takes the surface of a mould and a short case file, stretches the sheet over it by \
finite elements and tells, before the mould is printed, how thin the wall gets, how deep letters and textures form, \
where air stays shut in, whether the mould bears it and whether the part comes off.")
set(CPACK_PACKAGING_INSTALL_PREFIX /usr)
set(CPACK_STRIP_FILES ON)
set(CPACK_DEBIAN_FILE_NAME DEB-DEFAULT)
set(CPACK_DEBIAN_PACKAGE_SECTION science)
set(CPACK_DEBIAN_PACKAGE_SHLIBDEPS ON)
set(CPACK_DEBIAN_PACKAGE_DEPENDS fonts-dejavu-core)  # letters of a relief whose case names no font
set(CPACK_DEBIAN_PACKAGE_SUGGESTS "paraview, python3-paraview, xvfb, xauth")  # open.py
include(CPack)
