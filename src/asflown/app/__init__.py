"""The job: who may do what next; one module a job."""
