"""What a phone or tablet needs of the app, as far as it can be shown without one."""
