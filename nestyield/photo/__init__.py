"""Odd pieces by picture: photos with printed marker sheets, or scans, to rack rows. Needs the extra ``photo``."""
